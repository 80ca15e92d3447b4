-- What a plan is held to besides the money of each year: funds, closures, who
-- does the work, and the crews' shifts.

-- The same table, with a row for each fund.
CREATE TABLE budgets_of_funds (
  id           INTEGER PRIMARY KEY AUTOINCREMENT,
  name         TEXT NOT NULL UNIQUE,
  year         INTEGER NOT NULL,               -- fiscal
  district     TEXT NOT NULL DEFAULT '',       -- none: the network
  fund         TEXT NOT NULL DEFAULT '',       -- none: the agency's own money
  amount_cents INTEGER NOT NULL CHECK (amount_cents >= 0),  -- nominal
  source       TEXT NOT NULL,
  illustrative BOOLEAN NOT NULL DEFAULT 0,
  changed_at   DATETIME,
  changed_by   TEXT,
  UNIQUE (year, district, fund)
);
INSERT INTO budgets_of_funds (id, name, year, district, amount_cents, source, illustrative, changed_at, changed_by)
  SELECT id, name, year, district, amount_cents, source, illustrative, changed_at, changed_by FROM budgets;
DROP TABLE budgets;
ALTER TABLE budgets_of_funds RENAME TO budgets;

CREATE TABLE funds (
  id             INTEGER PRIMARY KEY AUTOINCREMENT,
  name           TEXT NOT NULL UNIQUE,
  treatments     TEXT NOT NULL DEFAULT '',     -- that it pays, separated by semicolons; none: any
  routes         TEXT NOT NULL DEFAULT '',     -- on which, separated by semicolons; none: any
  match_share    REAL CHECK (match_share >= 0 AND match_share < 1),  -- of a job, from own money
  overhead_share REAL CHECK (overhead_share >= 0),  -- engineering and inspection, on top of a job
  last_year      INTEGER,                      -- fiscal, in which it can be drawn; none: no end
  carry_over     BOOLEAN NOT NULL DEFAULT 0,   -- what is left of a year can be used later
  source         TEXT NOT NULL,
  illustrative   BOOLEAN NOT NULL DEFAULT 0,
  changed_at     DATETIME,
  changed_by     TEXT
);

CREATE TABLE closure_limits (
  id           INTEGER PRIMARY KEY AUTOINCREMENT,
  name         TEXT NOT NULL UNIQUE,
  route        TEXT NOT NULL,
  year         INTEGER,                        -- fiscal; none: every year without a row of its own
  closures     INTEGER NOT NULL CHECK (closures >= 0),  -- bridge visits
  source       TEXT NOT NULL,
  illustrative BOOLEAN NOT NULL DEFAULT 0,
  changed_at   DATETIME,
  changed_by   TEXT
);
CREATE UNIQUE INDEX closure_limits_year ON closure_limits (route, coalesce(year, 0));

CREATE TABLE deliveries (
  id            INTEGER PRIMARY KEY AUTOINCREMENT,
  name          TEXT NOT NULL UNIQUE,
  treatment     TEXT NOT NULL DEFAULT '',      -- none: any
  district      TEXT NOT NULL DEFAULT '',      -- none: any
  done_by       TEXT NOT NULL CHECK (done_by IN ('in-house', 'contract')),
  lead_years    INTEGER CHECK (lead_years BETWEEN 0 AND 5),  -- from obligation to work
  minimum_cents INTEGER NOT NULL DEFAULT 0 CHECK (minimum_cents >= 0),  -- least that is let in a district and year
  source        TEXT NOT NULL,
  illustrative  BOOLEAN NOT NULL DEFAULT 0,
  changed_at    DATETIME,
  changed_by    TEXT,
  UNIQUE (treatment, district)
);

CREATE TABLE crews (
  id           INTEGER PRIMARY KEY AUTOINCREMENT,
  name         TEXT NOT NULL UNIQUE,
  district     TEXT NOT NULL DEFAULT '',       -- none: shared by the network
  year         INTEGER,                        -- fiscal; none: every year without a row of its own
  shifts       REAL NOT NULL CHECK (shifts >= 0),  -- that the season holds
  source       TEXT NOT NULL,
  illustrative BOOLEAN NOT NULL DEFAULT 0,
  changed_at   DATETIME,
  changed_by   TEXT
);
CREATE UNIQUE INDEX crews_year ON crews (district, coalesce(year, 0));

ALTER TABLE treatments ADD COLUMN feet_per_shift REAL CHECK (feet_per_shift > 0);  -- of a crew; none: a shift a joint

ALTER TABLE plan_items ADD COLUMN fund TEXT NOT NULL DEFAULT '';     -- none: own money
ALTER TABLE plan_items ADD COLUMN done_by TEXT NOT NULL DEFAULT '';  -- in-house or contract; none: not on record
ALTER TABLE plan_items ADD COLUMN paid_year INTEGER;                 -- fiscal, in which the money is drawn; none: the year of the work

ALTER TABLE plan_years ADD COLUMN part BOOLEAN NOT NULL DEFAULT 0;   -- its money counts in another budget too: a district's
UPDATE plan_years SET part = 1 WHERE budget <> 'network';

ALTER TABLE decisions ADD COLUMN takes_over TEXT;  -- of an elimination: joints that take its expansion length, separated by semicolons
