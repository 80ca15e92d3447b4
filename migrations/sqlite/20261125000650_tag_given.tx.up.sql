-- A tag follows from the row's key. One chosen in a GIS could be that of a
-- joint to come, whose entry would then fail.
CREATE TRIGGER joints_tag_given AFTER INSERT ON joints
WHEN NEW.tag IS NOT NULL AND NEW.tag <> printf('J%06d', NEW.id) BEGIN
  SELECT RAISE(ABORT, 'leave the tag blank, it is given; a name of your own goes into label');
END;
