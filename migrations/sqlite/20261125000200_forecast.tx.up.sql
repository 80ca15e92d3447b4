-- The agency's settings and tables, and what the forecast worked out.

CREATE TABLE settings (
  id         INTEGER PRIMARY KEY AUTOINCREMENT,
  key        TEXT NOT NULL UNIQUE,
  value      TEXT NOT NULL,
  changed_at DATETIME,
  changed_by TEXT
);

CREATE TABLE seal_kinds (
  id           INTEGER PRIMARY KEY AUTOINCREMENT,
  element      INTEGER NOT NULL UNIQUE,        -- 300-306 or the agency's own number
  kind         TEXT NOT NULL,
  changed_at   DATETIME,
  changed_by   TEXT
);

CREATE TABLE life_table (
  id           INTEGER PRIMARY KEY AUTOINCREMENT,
  kind         TEXT NOT NULL UNIQUE,
  cs1_years    REAL NOT NULL CHECK (cs1_years > 0),  -- median years in the state
  cs2_years    REAL NOT NULL CHECK (cs2_years > 0),
  cs3_years    REAL NOT NULL CHECK (cs3_years > 0),
  source       TEXT NOT NULL,
  illustrative BOOLEAN NOT NULL DEFAULT 1,
  changed_at   DATETIME,
  changed_by   TEXT
);

CREATE TABLE treatments (
  id                  INTEGER PRIMARY KEY AUTOINCREMENT,
  name                TEXT NOT NULL UNIQUE,
  for_kinds           TEXT NOT NULL DEFAULT '',      -- seal kinds, separated by semicolons; none: any
  cost_per_ft_cents   INTEGER NOT NULL CHECK (cost_per_ft_cents >= 0),
  fixed_cents         INTEGER NOT NULL DEFAULT 0 CHECK (fixed_cents >= 0),
  visit_cents         INTEGER NOT NULL DEFAULT 0 CHECK (visit_cents >= 0),  -- mobilisation and traffic control, once a bridge visit
  price_year          INTEGER NOT NULL,
  source              TEXT NOT NULL,
  illustrative        BOOLEAN NOT NULL DEFAULT 1,
  changed_at          DATETIME,
  changed_by          TEXT
);

CREATE TABLE consequences (
  id             INTEGER PRIMARY KEY AUTOINCREMENT,
  cause          TEXT NOT NULL UNIQUE,
  dollars_a_year REAL NOT NULL CHECK (dollars_a_year >= 0),
  per            TEXT NOT NULL CHECK (per IN ('joint', 'ft', '1000 vehicles a day')),
  deicing        TEXT CHECK (deicing IN ('none', 'light', 'moderate', 'heavy')),  -- of the bridge; none given: any
  source         TEXT NOT NULL,
  illustrative   BOOLEAN NOT NULL DEFAULT 1,
  changed_at     DATETIME,
  changed_by     TEXT
);

CREATE TABLE forecasts (
  joint_id           INTEGER PRIMARY KEY REFERENCES joints (id),
  as_of              DATE NOT NULL,
  basis              TEXT NOT NULL,            -- inspection and rates that it rests on
  cs1                REAL NOT NULL,            -- shares of length at as_of
  cs2                REAL NOT NULL,
  cs3                REAL NOT NULL,
  cs4                REAL NOT NULL,
  failed_probability REAL NOT NULL CHECK (failed_probability BETWEEN 0 AND 1),
  replace_year       INTEGER,                  -- none: beyond the horizon
  replace_year_10    INTEGER,
  replace_year_90    INTEGER,
  made_at            DATETIME NOT NULL
);

CREATE VIEW joint_forecast AS
SELECT j.id AS id, j.geom AS geom, j.tag AS tag, j.label AS label, b.structure_number AS structure_number,
       b.route AS route, b.milepost AS milepost, b.district AS district, j.length_ft AS length_ft,
       j.geometry_source AS geometry_source,
       f.as_of AS as_of, f.basis AS basis, f.cs1 AS cs1, f.cs2 AS cs2, f.cs3 AS cs3, f.cs4 AS cs4,
       f.failed_probability AS failed_probability, f.replace_year_10 AS replace_year_10,
       f.replace_year AS replace_year, f.replace_year_90 AS replace_year_90
  FROM forecasts f
  JOIN joints j ON j.id = f.joint_id
  JOIN bridges b ON b.id = j.bridge_id
 WHERE j.status = 'in service';

INSERT INTO seal_kinds (element, kind) VALUES
  (300, 'strip seal'), (301, 'pourable seal'), (302, 'compression seal'), (303, 'modular joint'),
  (304, 'open joint'), (305, 'plate joint'), (306, 'other');

-- Starting values so that a first forecast can be made. No published table of
-- years by state could be read for joints: every row is illustrative until the
-- agency puts in its own or fits them.
INSERT INTO life_table (kind, cs1_years, cs2_years, cs3_years, source) VALUES
  ('strip seal',       6, 4, 4, 'illustrative'),
  ('pourable seal',    3, 2, 2, 'illustrative'),
  ('compression seal', 5, 3, 3, 'illustrative'),
  ('preformed gland',  5, 3, 3, 'illustrative'),
  ('foam seal',        3, 2, 2, 'illustrative'),
  ('asphaltic plug',   3, 2, 1.5, 'illustrative'),
  ('modular joint',    8, 5, 4, 'illustrative'),
  ('open joint',      12, 8, 6, 'illustrative'),
  ('plate joint',     12, 8, 6, 'illustrative'),
  ('other',            5, 3, 3, 'illustrative');

INSERT INTO treatments (name, for_kinds, cost_per_ft_cents, fixed_cents, visit_cents, price_year, source) VALUES
  ('reseal',           '',                                      9000, 150000, 600000, 2026, 'illustrative'),
  ('new gland',        'strip seal; modular joint', 16000, 200000, 800000, 2026, 'illustrative'),
  ('full replacement', 'open joint; plate joint', 60000, 500000, 1200000, 2026, 'illustrative');

INSERT INTO consequences (cause, dollars_a_year, per, deicing, source) VALUES
  ('water on what is below, no deicing',       15, 'ft', 'none',     'illustrative'),
  ('water on what is below, light deicing',    35, 'ft', 'light',    'illustrative'),
  ('water on what is below, moderate deicing', 60, 'ft', 'moderate', 'illustrative'),
  ('water on what is below, heavy deicing',    90, 'ft', 'heavy',    'illustrative'),
  ('hazard and ride',                          40, '1000 vehicles a day', NULL, 'illustrative');
