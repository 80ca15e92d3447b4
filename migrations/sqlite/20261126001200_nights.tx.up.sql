-- Traffic control of each further night, where the work at a joint does not fit one
-- closure (setting closure_hours, or feet_per_shift). The first night's is in the
-- bridge visit.

ALTER TABLE treatments ADD COLUMN night_cents INTEGER NOT NULL DEFAULT 0 CHECK (night_cents >= 0);
