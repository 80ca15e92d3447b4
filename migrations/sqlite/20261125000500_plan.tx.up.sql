-- What treatments do, the decisions of people, money by year, approved lists
-- and kept plans.

ALTER TABLE treatments ADD COLUMN effect TEXT NOT NULL DEFAULT 'renews'
  CHECK (effect IN ('', 'renews', 'repairs', 'removes', 'nothing'));  -- on the seal's condition; none: renews
ALTER TABLE treatments ADD COLUMN repairs_share REAL
  CHECK (repairs_share > 0 AND repairs_share <= 1);                   -- of one that repairs: the most of the length that is made new
ALTER TABLE treatments ADD COLUMN new_kind TEXT NOT NULL DEFAULT '';  -- seal kind that goes in; none: the same kind
ALTER TABLE treatments ADD COLUMN for_findings TEXT NOT NULL DEFAULT '';  -- only where one of these is open; none: any joint
ALTER TABLE treatments ADD COLUMN only_decided BOOLEAN NOT NULL DEFAULT 0;  -- done only where a person decides so

UPDATE treatments
   SET name = 'new gland in existing rails', changed_by = 'upgrade', changed_at = strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
 WHERE name = 'new gland' AND source = 'illustrative';

-- Every figure is illustrative until the agency puts in its own.
INSERT INTO treatments (name, for_kinds, cost_per_ft_cents, fixed_cents, visit_cents, price_year, source, effect, repairs_share, new_kind, for_findings, only_decided) VALUES
  ('spot repair', 'strip seal; pourable seal; compression seal; preformed gland; foam seal; asphaltic plug',
                                    2500,   80000,  400000, 2026, 'illustrative', 'repairs', 0.25, '', '', 0),
  ('reseal with header repair', '', 22000, 300000,  800000, 2026, 'illustrative', 'renews',  NULL, '', 'spalled header', 0),
  ('change to strip seal', 'compression seal; preformed gland',
                                    55000, 500000, 1200000, 2026, 'illustrative', 'renews',  NULL, 'strip seal', '', 0),
  ('header rebuild', '',            38000, 400000, 1000000, 2026, 'illustrative', 'renews',  NULL, '', '', 1),
  ('clean and flush', '',             600,   20000,  250000, 2026, 'illustrative', 'nothing', NULL, '', '', 1),
  ('trough repair', 'open joint; plate joint',
                                    12000, 150000,  600000, 2026, 'illustrative', 'nothing', NULL, '', '', 1),
  ('temporary plate', '',            8000, 100000,  400000, 2026, 'illustrative', 'nothing', NULL, '', '', 1),
  ('elimination', '',              110000, 1500000, 2000000, 2026, 'illustrative', 'removes', NULL, '', '', 1);

CREATE TABLE decisions (
  id         INTEGER PRIMARY KEY AUTOINCREMENT,
  uid        TEXT UNIQUE,
  joint_id   INTEGER NOT NULL REFERENCES joints (id),
  what       TEXT NOT NULL CHECK (what IN ('pin', 'hold', 'exclude', 'treatment', 'cost')),
  year       INTEGER,                          -- pin: the year of the work; hold: nothing before it
  treatment  TEXT,                             -- pin and treatment
  cost_cents INTEGER CHECK (cost_cents >= 0),  -- constant, at the prices of price_year
  price_year INTEGER,
  reason     TEXT NOT NULL CHECK (length(reason) > 0),
  ended_on   DATE,
  created_at DATETIME,
  created_by TEXT,
  changed_at DATETIME,
  changed_by TEXT,
  CHECK (what NOT IN ('pin', 'hold') OR year IS NOT NULL),
  CHECK (what <> 'treatment' OR treatment IS NOT NULL),
  CHECK (what <> 'cost' OR cost_cents IS NOT NULL AND price_year IS NOT NULL)
);
CREATE UNIQUE INDEX decisions_standing ON decisions (joint_id, what) WHERE ended_on IS NULL;

CREATE TABLE budgets (
  id           INTEGER PRIMARY KEY AUTOINCREMENT,
  name         TEXT NOT NULL UNIQUE,
  year         INTEGER NOT NULL,               -- fiscal
  district     TEXT NOT NULL DEFAULT '',       -- none: the network
  amount_cents INTEGER NOT NULL CHECK (amount_cents >= 0),  -- nominal
  source       TEXT NOT NULL,
  illustrative BOOLEAN NOT NULL DEFAULT 0,
  changed_at   DATETIME,
  changed_by   TEXT,
  UNIQUE (year, district)
);

-- A work list as it was approved. Its items never change but for their progress.
CREATE TABLE work_lists (
  id           INTEGER PRIMARY KEY AUTOINCREMENT,
  uid          TEXT UNIQUE,
  name         TEXT NOT NULL UNIQUE,
  year         INTEGER NOT NULL,
  as_of        DATE NOT NULL,
  budget_cents INTEGER,
  spent_cents  INTEGER NOT NULL,
  created_at   DATETIME,
  created_by   TEXT
);

CREATE TABLE work_list_items (
  id            INTEGER PRIMARY KEY AUTOINCREMENT,
  list_id       INTEGER NOT NULL REFERENCES work_lists (id),
  joint_id      INTEGER NOT NULL REFERENCES joints (id),
  rank          INTEGER NOT NULL,
  treatment     TEXT NOT NULL,
  cost_cents    INTEGER NOT NULL,              -- nominal
  wait_cents    INTEGER NOT NULL,              -- cost of waiting a year, constant dollars
  reason        TEXT NOT NULL,
  progress      TEXT NOT NULL DEFAULT 'approved' CHECK (progress IN
                  ('approved', 'programmed', 'obligated', 'completed', 'paid', 'dropped')),
  contract      TEXT,
  progress_note TEXT,
  created_at    DATETIME,
  created_by    TEXT,
  changed_at    DATETIME,
  changed_by    TEXT,
  UNIQUE (list_id, joint_id)
);

CREATE TABLE plans (
  id         INTEGER PRIMARY KEY AUTOINCREMENT,
  uid        TEXT UNIQUE,
  name       TEXT NOT NULL UNIQUE,
  as_of      DATE NOT NULL,
  first_year INTEGER NOT NULL,
  years      INTEGER NOT NULL,
  cost       REAL NOT NULL,                    -- present value, constant dollars of the first year
  bound      REAL NOT NULL,
  idle_cost  REAL NOT NULL,                    -- of doing nothing
  created_at DATETIME,
  created_by TEXT
);

CREATE TABLE plan_items (
  id         INTEGER PRIMARY KEY AUTOINCREMENT,
  plan_id    INTEGER NOT NULL REFERENCES plans (id) ON DELETE CASCADE,
  joint_id   INTEGER NOT NULL REFERENCES joints (id),
  year       INTEGER NOT NULL,
  treatment  TEXT NOT NULL,
  cost_cents INTEGER NOT NULL                  -- nominal, without the visit
);
CREATE INDEX plan_items_plan ON plan_items (plan_id, year);

CREATE TABLE plan_years (
  id           INTEGER PRIMARY KEY AUTOINCREMENT,
  plan_id      INTEGER NOT NULL REFERENCES plans (id) ON DELETE CASCADE,
  budget       TEXT NOT NULL,                  -- network or the district
  year         INTEGER NOT NULL,
  limit_cents  INTEGER,                        -- none: no limit
  spent_cents  INTEGER NOT NULL,               -- nominal
  price        REAL NOT NULL                   -- what one more dollar saves, present value
);
CREATE INDEX plan_years_plan ON plan_years (plan_id, budget, year);
