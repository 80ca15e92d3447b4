-- A joint drawn in a GIS has neither a stretch nor a seal, without which it
-- cannot be inspected: give it one of its whole length, of which nothing more
-- is known. One that is made longer or shorter takes its only stretch along.

CREATE TRIGGER joints_drawn_outside_stretch AFTER INSERT ON joints
WHEN NEW.uid IS NULL BEGIN
  INSERT INTO stretches (uid, joint_id, to_ft, created_at, created_by, changed_at, changed_by)
  VALUES (lower(hex(randomblob(16))), NEW.id, coalesce(NEW.length_ft, 1),
          strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), 'outside edit', strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), 'outside edit');
  INSERT INTO seals (uid, stretch_id, created_at, created_by, changed_at, changed_by)
  SELECT lower(hex(randomblob(16))), id, created_at, created_by, changed_at, changed_by FROM stretches WHERE joint_id = NEW.id;
END;

CREATE TRIGGER joints_relengthed_outside AFTER UPDATE OF length_ft ON joints
WHEN NEW.changed_at IS OLD.changed_at AND NEW.length_ft IS NOT OLD.length_ft AND NEW.length_ft IS NOT NULL BEGIN
  UPDATE stretches SET to_ft = NEW.length_ft
   WHERE joint_id = NEW.id AND ended_on IS NULL AND from_ft = 0
     AND (SELECT count(*) FROM stretches t WHERE t.joint_id = NEW.id AND t.ended_on IS NULL) = 1;
END;
