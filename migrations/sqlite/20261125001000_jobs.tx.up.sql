-- The way of an approved job: the day of each step, what it really cost, and
-- the work on record that did it.

ALTER TABLE work_list_items ADD COLUMN programmed_on DATE;
ALTER TABLE work_list_items ADD COLUMN obligated_on DATE;
ALTER TABLE work_list_items ADD COLUMN completed_on DATE;
ALTER TABLE work_list_items ADD COLUMN paid_on DATE;
ALTER TABLE work_list_items ADD COLUMN dropped_on DATE;
ALTER TABLE work_list_items ADD COLUMN actual_cents INTEGER CHECK (actual_cents >= 0);  -- nominal
ALTER TABLE work_list_items ADD COLUMN work_id INTEGER REFERENCES work (id);

CREATE INDEX work_list_items_joint ON work_list_items (joint_id);
CREATE UNIQUE INDEX work_list_items_work ON work_list_items (work_id) WHERE work_id IS NOT NULL;
