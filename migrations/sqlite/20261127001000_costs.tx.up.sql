-- What estimates hold beside the unit costs: traffic control apart from mobilisation,
-- what a district's work costs beside the table, a price index, and discount rates by
-- length of programme.

ALTER TABLE treatments ADD COLUMN traffic_cents INTEGER NOT NULL DEFAULT 0 CHECK (traffic_cents >= 0);
-- A starting value's visit held both, and its sum stays; half of each is a starting
-- value too. An agency's own rows stay as they are.
UPDATE treatments
   SET traffic_cents = visit_cents / 2, visit_cents = visit_cents - visit_cents / 2,
       changed_by = 'upgrade', changed_at = strftime('%Y-%m-%dT%H:%M:%fZ', 'now')
 WHERE illustrative AND coalesce(changed_by, 'upgrade') = 'upgrade';

CREATE TABLE cost_factors (
  id           INTEGER PRIMARY KEY AUTOINCREMENT,
  district     TEXT NOT NULL UNIQUE,
  factor       REAL NOT NULL CHECK (factor > 0),  -- on all unit costs
  source       TEXT NOT NULL,
  illustrative BOOLEAN NOT NULL DEFAULT 0,
  changed_at   DATETIME,
  changed_by   TEXT
);

CREATE TABLE cost_index (
  id           INTEGER PRIMARY KEY AUTOINCREMENT,
  period       TEXT NOT NULL UNIQUE,              -- 2026, or 2026Q1 of the calendar year
  level        REAL NOT NULL CHECK (level > 0),
  source       TEXT NOT NULL,
  illustrative BOOLEAN NOT NULL DEFAULT 0,
  changed_at   DATETIME,
  changed_by   TEXT
);

CREATE TABLE discount_rates (
  id           INTEGER PRIMARY KEY AUTOINCREMENT,
  years        REAL NOT NULL UNIQUE CHECK (years > 0),  -- length of the programme
  rate         REAL NOT NULL CHECK (rate > -1),         -- real, a year
  source       TEXT NOT NULL,
  illustrative BOOLEAN NOT NULL DEFAULT 0,
  changed_at   DATETIME,
  changed_by   TEXT
);
