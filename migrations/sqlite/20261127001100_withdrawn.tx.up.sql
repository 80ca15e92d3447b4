-- A bridge project that will not come is withdrawn: it stays on record with the day
-- and the reason, and nothing is planned around it any more.

ALTER TABLE projects ADD COLUMN withdrawn_on DATE;
ALTER TABLE projects ADD COLUMN withdrawn_why TEXT;
