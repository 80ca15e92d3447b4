package condition

// Rules are what Check looks for, in the order in which it tells them.
var Rules = []Rule{
	{
		Name: "severe finding open", Weight: WeightSafety,
		Remedy: "needs an engineer's review; close it when it has been seen to", Command: "reseal finding close",
		query: `SELECT j.tag AS ref, f.kind || ' found ' || f.found_on || ', ' || CAST(julianday(@today) - julianday(f.found_on) AS INTEGER) || ' days ago' AS detail
			FROM findings f JOIN joints j ON j.id = f.joint_id WHERE f.closed_on IS NULL AND f.urgency = 'severe' ORDER BY f.found_on`,
	},
	{
		Name: "plate in place", Weight: WeightSafety,
		Remedy: "a plate is temporary: plan the repair, and close the finding when the plate is gone",
		query: `SELECT j.tag AS ref, 'since ' || f.found_on || ', ' || CAST(julianday(@today) - julianday(f.found_on) AS INTEGER) || ' days' AS detail
			FROM findings f JOIN joints j ON j.id = f.joint_id WHERE f.closed_on IS NULL AND f.kind = 'plate placed' ORDER BY f.found_on`,
	},
	{
		Name: "damage below a joint rated good", Weight: WeightWrong,
		Remedy: "look at the joint from below: it may leak without showing on top",
		query: `SELECT v.tag AS ref, 'element ' || d.element || ' has ' || CAST(round(100 * d.damaged) AS INTEGER) || ' % in CS3 and CS4 (' || d.submitted_year || ')' AS detail
			FROM (SELECT e.bridge_id, e.element, e.submitted_year, max((e.cs3 + e.cs4) / e.quantity) AS damaged FROM element_records e
				JOIN (SELECT bridge_id, max(submitted_year) AS year FROM element_records GROUP BY bridge_id) l
				  ON l.bridge_id = e.bridge_id AND l.year = e.submitted_year
				WHERE e.joint_id IS NULL AND e.parent_element IS NULL AND e.quantity > 0 AND e.cs3 + e.cs4 >= 0.1 * e.quantity
				GROUP BY e.bridge_id) d
			JOIN joint_condition v ON v.bridge_id = d.bridge_id
			WHERE v.status = 'in service' AND v.worst_state <= 2
			UNION ALL
			SELECT v.tag, 'open finding of damage below, ' || f.found_on FROM joint_condition v
			JOIN findings f ON f.joint_id = v.id AND f.kind = 'damage below' AND f.closed_on IS NULL WHERE v.status = 'in service' AND v.worst_state <= 2`,
	},
	{
		Name: "bridge's joint rating contradicts the feet", Weight: WeightWrong,
		Remedy: "one of the two is wrong: the rating of the joints (SNBI B.C.08) or the feet",
		query: `SELECT v.tag AS ref, 'rated ' || b.joints_rating || ' at the bridge, worst state CS' || v.worst_state AS detail
			FROM joint_condition v JOIN bridges b ON b.id = v.bridge_id
			WHERE v.status = 'in service' AND ((b.joints_rating >= 7 AND v.cs4_ft > 0)
			   OR (b.joints_rating <= 4 AND (SELECT max(w.worst_state) FROM joint_condition w WHERE w.bridge_id = b.id AND w.status = 'in service') = 1))`,
	},
	{
		Name: "feet do not add up to the length", Weight: WeightWrong,
		Remedy: "correct the length, or log a correction of the inspection", Command: "reseal joint edit",
		query: `SELECT v.tag AS ref, printf('%g ft in states, length %g ft', v.cs1_ft + v.cs2_ft + v.cs3_ft + v.cs4_ft + v.not_seen_ft, v.length_ft) AS detail
			FROM joint_condition v WHERE v.status = 'in service' AND v.inspection_id IS NOT NULL
			AND abs(v.cs1_ft + v.cs2_ft + v.cs3_ft + v.cs4_ft + v.not_seen_ft - v.length_ft) > max(1, 0.02 * v.length_ft)`,
	},
	{
		Name: "stretches do not cover the joint", Weight: WeightWrong,
		Remedy: "each foot of a joint belongs to one stretch: correct the stretches or the length",
		query: `SELECT j.tag AS ref, printf('%g ft in stretches, length %g ft', sum(t.to_ft - t.from_ft), j.length_ft) AS detail
			FROM joints j JOIN stretches t ON t.joint_id = j.id AND t.ended_on IS NULL
			WHERE j.status = 'in service' AND j.length_ft IS NOT NULL GROUP BY j.id
			HAVING abs(sum(t.to_ft - t.from_ft) - j.length_ft) > max(1, 0.02 * j.length_ft)`,
	},
	{
		Name: "seal older than its bridge", Weight: WeightWrong, Remedy: "correct one of the two dates",
		query: `SELECT j.tag AS ref, 'installed ' || s.installed_on || ', bridge built ' || b.year_built AS detail
			FROM seals s JOIN stretches t ON t.id = s.stretch_id JOIN joints j ON j.id = t.joint_id JOIN bridges b ON b.id = j.bridge_id
			WHERE s.removed_on IS NULL AND j.status = 'in service' AND CAST(substr(s.installed_on, 1, 4) AS INTEGER) < b.year_built`,
	},
	{
		Name: "joint in service on a retired bridge", Weight: WeightWrong, Remedy: "retire the joint, or put the bridge back in service",
		query: `SELECT j.tag AS ref, 'bridge ' || b.structure_number AS detail FROM joints j JOIN bridges b ON b.id = j.bridge_id
			WHERE j.status = 'in service' AND b.status = 'retired' AND j.second_bridge_id IS NULL`,
	},
	{
		Name: "line far from its bridge", Weight: WeightWrong, Remedy: "correct the place of the joint or the bridge",
		query: `SELECT j.tag AS ref, 'over a mile from bridge ' || b.structure_number AS detail FROM joints j JOIN bridges b ON b.id = j.bridge_id
			JOIN rtree_joints_geom r ON r.id = j.id JOIN rtree_bridges_geom q ON q.id = b.id
			WHERE j.status = 'in service' AND j.geometry_source <> 'drawn' AND (abs(r.minx - q.minx) > 0.03 OR abs(r.miny - q.miny) > 0.03)`,
	},
	{
		Name: "element number changed", Weight: WeightWrong,
		Remedy: "say whether it is a recoding or a new seal", Command: "reseal joint recode",
		query: `SELECT j.tag AS ref, 'from ' || c.from_element || ' to ' || c.to_element || ' in ' || c.year AS detail
			FROM element_changes c JOIN joints j ON j.id = c.joint_id WHERE c.decision IS NULL`,
	},
	{
		Name: "left out of the last submission", Weight: WeightWrong,
		Remedy: "retire the joint, or find out why it was left out",
		query: `SELECT j.tag AS ref, 'last sent in ' || max(e.submitted_year) AS detail
			FROM joints j JOIN element_records e ON e.joint_id = j.id JOIN bridges b ON b.id = j.bridge_id
			WHERE j.status = 'in service' AND j.scope = 'bridge quantity' GROUP BY j.id
			HAVING max(e.submitted_year) < (SELECT max(x.submitted_year) FROM element_records x WHERE x.bridge_id = j.bridge_id)`,
	},
	{
		Name: "bridge without a place", Weight: WeightMissing, Remedy: "give its longitude and latitude", Command: "reseal bridge edit NUMBER --at LON,LAT",
		query: `SELECT state || '/' || structure_number AS ref, position_problem AS detail FROM bridges WHERE geom IS NULL AND status = 'in service'`,
	},
	{
		Name: "bridge without joints", Weight: WeightMissing, Remedy: "propose them, or enter them", Command: "reseal joint propose",
		query: `SELECT b.state || '/' || b.structure_number AS ref, b.design AS detail FROM bridges b
			WHERE b.status = 'in service' AND coalesce(b.design, '') NOT LIKE '%culvert%' AND b.length_ft >= 20
			AND NOT EXISTS (SELECT 1 FROM joints j WHERE j.bridge_id = b.id) AND NOT EXISTS (SELECT 1 FROM joints j WHERE j.second_bridge_id = b.id)`,
	},
	{
		Name: "proposed joint waiting", Weight: WeightMissing, Remedy: "confirm or reject it", Command: "reseal joint confirm or reject",
		query: `SELECT tag AS ref, place AS detail FROM joints WHERE status = 'proposed'`,
	},
	{
		Name: "never inspected", Weight: WeightMissing, Remedy: "look at it when it is due", Command: "reseal due",
		query: `SELECT v.tag AS ref, 'bridge ' || v.structure_number AS detail FROM joint_condition v WHERE v.status = 'in service' AND v.inspection_id IS NULL`,
	},
	{
		Name: "known only as a quantity", Weight: WeightMissing, Remedy: "find the real joints: propose them, or say how many there are", Command: "reseal joint propose or split",
		query: `SELECT tag AS ref, printf('%g ft of element %d', length_ft, element) AS detail FROM joints WHERE status = 'in service' AND scope = 'bridge quantity'`,
	},
	{
		Name: "joint without a length", Weight: WeightMissing, Remedy: "measure it, and enter it", Command: "reseal joint edit",
		query: `SELECT tag AS ref, place AS detail FROM joints WHERE status = 'in service' AND length_ft IS NULL`,
	},
	{
		Name: "seal kind not known", Weight: WeightMissing, Remedy: "find it at the next inspection, and enter it", Command: "reseal import seals",
		query: `SELECT j.tag AS ref, 'kind other' AS detail FROM joints j WHERE j.status = 'in service' AND j.scope = 'joint'
			AND EXISTS (SELECT 1 FROM stretches t JOIN seals s ON s.stretch_id = t.id AND s.removed_on IS NULL WHERE t.joint_id = j.id AND t.ended_on IS NULL AND s.kind = 'other')`,
	},
	{
		Name: "installation date not known", Weight: WeightMissing, Remedy: "find it in the contract, or leave it: an inspection is enough for a forecast",
		query: `SELECT j.tag AS ref, s.kind AS detail FROM joints j JOIN stretches t ON t.joint_id = j.id AND t.ended_on IS NULL
			JOIN seals s ON s.stretch_id = t.id AND s.removed_on IS NULL AND s.installed_on IS NULL
			WHERE j.status = 'in service' AND j.scope = 'joint'`,
	},
}
