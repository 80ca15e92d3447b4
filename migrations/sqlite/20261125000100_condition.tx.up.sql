-- Inspections, defects, gap readings. Only ever added: a correction is a new
-- row that names the one it replaces.

CREATE TABLE inspections (
  id              INTEGER PRIMARY KEY AUTOINCREMENT,
  uid             TEXT UNIQUE,
  joint_id        INTEGER NOT NULL REFERENCES joints (id),
  inspected_on    DATE NOT NULL,
  date_known      TEXT NOT NULL DEFAULT 'day' CHECK (date_known IN ('day', 'month', 'no later than')),
  source          TEXT NOT NULL DEFAULT 'inspection' CHECK (source IN ('inspection', 'element file')),
  inspector       TEXT,
  seen_from       TEXT CHECK (seen_from IN ('top', 'below', 'both')),
  access_limit    TEXT,
  wet             BOOLEAN,
  quick           BOOLEAN NOT NULL DEFAULT 0,  -- worst state and leakage only
  quick_worst     INTEGER CHECK (quick_worst BETWEEN 1 AND 4),
  leaking         BOOLEAN,
  odd             TEXT,                        -- what was odd and accepted, one a line
  photos          TEXT,                        -- file names, one a line
  notes           TEXT,
  replaces_id     INTEGER UNIQUE REFERENCES inspections (id),
  created_at      DATETIME,
  created_by      TEXT
);
CREATE INDEX inspections_joint ON inspections (joint_id, inspected_on, id);

CREATE TABLE inspection_feet (
  id            INTEGER PRIMARY KEY AUTOINCREMENT,
  inspection_id INTEGER NOT NULL REFERENCES inspections (id),
  stretch_id    INTEGER NOT NULL REFERENCES stretches (id),
  cs1_ft        REAL NOT NULL DEFAULT 0 CHECK (cs1_ft >= 0),
  cs2_ft        REAL NOT NULL DEFAULT 0 CHECK (cs2_ft >= 0),
  cs3_ft        REAL NOT NULL DEFAULT 0 CHECK (cs3_ft >= 0),
  cs4_ft        REAL NOT NULL DEFAULT 0 CHECK (cs4_ft >= 0),
  not_seen_ft   REAL NOT NULL DEFAULT 0 CHECK (not_seen_ft >= 0),
  UNIQUE (inspection_id, stretch_id)
);

CREATE TABLE inspection_defects (
  id            INTEGER PRIMARY KEY AUTOINCREMENT,
  inspection_id INTEGER NOT NULL REFERENCES inspections (id),
  stretch_id    INTEGER REFERENCES stretches (id),
  defect        INTEGER NOT NULL,
  state         INTEGER NOT NULL CHECK (state BETWEEN 1 AND 4),
  from_ft       REAL CHECK (from_ft >= 0),
  to_ft         REAL CHECK (to_ft >= from_ft)
);
CREATE INDEX inspection_defects_inspection ON inspection_defects (inspection_id);

CREATE TABLE readings (
  id             INTEGER PRIMARY KEY AUTOINCREMENT,
  uid            TEXT UNIQUE,
  joint_id       INTEGER NOT NULL REFERENCES joints (id),
  inspection_id  INTEGER REFERENCES inspections (id),
  read_on        DATE NOT NULL,
  position       TEXT,
  gap_in         REAL NOT NULL CHECK (gap_in BETWEEN 0 AND 40),  -- square to the joint, the whole joint
  deck_temp_f    REAL CHECK (deck_temp_f BETWEEN -60 AND 180),
  air_temp_f     REAL CHECK (air_temp_f BETWEEN -60 AND 180),
  faces          TEXT,
  depth_in       REAL,
  at_install     BOOLEAN NOT NULL DEFAULT 0,
  odd            TEXT,
  notes          TEXT,
  replaces_id    INTEGER UNIQUE REFERENCES readings (id),
  created_at     DATETIME,
  created_by     TEXT
);
CREATE INDEX readings_joint ON readings (joint_id, read_on);
CREATE INDEX readings_inspection ON readings (inspection_id) WHERE inspection_id IS NOT NULL;

-- Element quantities as they were submitted, the bridge's other elements that
-- a leaking joint harms included. A submission is not an inspection.
CREATE TABLE element_records (
  id              INTEGER PRIMARY KEY AUTOINCREMENT,
  bridge_id       INTEGER NOT NULL REFERENCES bridges (id),
  joint_id        INTEGER REFERENCES joints (id),
  element         INTEGER NOT NULL,
  parent_element  INTEGER,
  submitted_year  INTEGER NOT NULL,
  quantity        REAL NOT NULL,
  cs1             REAL NOT NULL,
  cs2             REAL NOT NULL,
  cs3             REAL NOT NULL,
  cs4             REAL NOT NULL,
  carried_forward BOOLEAN NOT NULL DEFAULT 0,  -- the last record sent in again: no new observation
  inspection_id   INTEGER REFERENCES inspections (id),
  created_at      DATETIME,
  created_by      TEXT
);
CREATE UNIQUE INDEX element_records_key ON element_records
  (bridge_id, element, coalesce(parent_element, 0), submitted_year);
CREATE INDEX element_records_joint ON element_records (joint_id, submitted_year) WHERE joint_id IS NOT NULL;

-- A joint that came in under another element number: recoded, or a new seal?
CREATE TABLE element_changes (
  id           INTEGER PRIMARY KEY AUTOINCREMENT,
  uid          TEXT UNIQUE,
  joint_id     INTEGER NOT NULL REFERENCES joints (id),
  year         INTEGER NOT NULL,
  from_element INTEGER NOT NULL,
  to_element   INTEGER NOT NULL,
  decision     TEXT CHECK (decision IN ('recoding', 'new seal')),
  created_at   DATETIME,
  created_by   TEXT,
  changed_at   DATETIME,
  changed_by   TEXT,
  UNIQUE (joint_id, year)
);

-- The latest condition of each joint: of its inspections with feet, the last
-- that nothing replaced. Scalar subqueries, so that a filter or a page on the
-- view reads only the joints it shows.
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
