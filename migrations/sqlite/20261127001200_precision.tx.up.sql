-- How well the date of installation is known stands beside it: read back without it, a
-- year would become its first day.

DROP VIEW joint_condition;

CREATE VIEW joint_condition AS
SELECT j.id AS id, j.geom AS geom, j.tag AS tag, j.label AS label, j.status AS status, j.scope AS scope,
       j.origin AS origin, j.geometry_source AS geometry_source,
       b.id AS bridge_id, b.state AS state, b.structure_number AS structure_number,
       b.facility_carried AS facility_carried, b.feature_intersected AS feature_intersected,
       b.route AS route, b.milepost AS milepost, b.district AS district, b.county AS county, b.access AS access,
       j.place AS place, j.movement AS movement, j.sequence AS sequence, j.length_ft AS length_ft,
       (SELECT s.kind FROM stretches t JOIN seals s ON s.stretch_id = t.id AND s.removed_on IS NULL
         WHERE t.joint_id = j.id AND t.ended_on IS NULL ORDER BY t.from_ft LIMIT 1) AS seal_kind,
       (SELECT s.installed_on FROM stretches t JOIN seals s ON s.stretch_id = t.id AND s.removed_on IS NULL
         WHERE t.joint_id = j.id AND t.ended_on IS NULL ORDER BY t.from_ft LIMIT 1) AS installed_on,
       (SELECT s.installed_precision FROM stretches t JOIN seals s ON s.stretch_id = t.id AND s.removed_on IS NULL
         WHERE t.joint_id = j.id AND t.ended_on IS NULL ORDER BY t.from_ft LIMIT 1) AS installed_precision,
       i.inspected_on AS inspected_on, i.date_known AS date_known,
       (SELECT sum(cs1_ft) FROM inspection_feet f WHERE f.inspection_id = i.id) AS cs1_ft,
       (SELECT sum(cs2_ft) FROM inspection_feet f WHERE f.inspection_id = i.id) AS cs2_ft,
       (SELECT sum(cs3_ft) FROM inspection_feet f WHERE f.inspection_id = i.id) AS cs3_ft,
       (SELECT sum(cs4_ft) FROM inspection_feet f WHERE f.inspection_id = i.id) AS cs4_ft,
       (SELECT sum(not_seen_ft) FROM inspection_feet f WHERE f.inspection_id = i.id) AS not_seen_ft,
       (SELECT max(CASE WHEN f.cs4_ft > 0 THEN 4 WHEN f.cs3_ft > 0 THEN 3 WHEN f.cs2_ft > 0 THEN 2 WHEN f.cs1_ft > 0 THEN 1 END)
          FROM inspection_feet f WHERE f.inspection_id = i.id) AS worst_state,
       i.id AS inspection_id
  FROM joints j
  JOIN bridges b ON b.id = j.bridge_id
  LEFT JOIN inspections i ON i.id = (
    SELECT c.id FROM inspections c
     WHERE c.joint_id = j.id
       AND NOT EXISTS (SELECT 1 FROM inspections r WHERE r.replaces_id = c.id)
       AND EXISTS (SELECT 1 FROM inspection_feet f WHERE f.inspection_id = c.id)
     ORDER BY c.inspected_on DESC, c.id DESC LIMIT 1);
