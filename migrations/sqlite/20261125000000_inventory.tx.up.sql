-- Bridges, joints, stretches, seals, work, findings, projects.
-- Rows that people make are retired, never deleted; every update leaves the
-- row as it was in history (the triggers are derived from the columns by the
-- store). Declared types are those of OGC GeoPackage 1.4, requirement 5.

CREATE TABLE bridges (
  id                    INTEGER PRIMARY KEY AUTOINCREMENT,
  uid                   TEXT UNIQUE,
  geom                  POINT,
  state                 TEXT NOT NULL,
  structure_number      TEXT NOT NULL CHECK (structure_number <> ''),
  name                  TEXT,
  facility_carried      TEXT,
  feature_intersected   TEXT,
  route                 TEXT,
  milepost              REAL,
  district              TEXT,
  county                TEXT,
  owner                 TEXT,
  location              TEXT,
  year_built            INTEGER,
  year_reconstructed    INTEGER,
  length_ft             REAL CHECK (length_ft >= 0),
  main_spans            INTEGER CHECK (main_spans >= 0),
  approach_spans        INTEGER CHECK (approach_spans >= 0),
  skew_deg              REAL CHECK (skew_deg BETWEEN 0 AND 90),
  skew_varies           BOOLEAN,
  curb_width_ft         REAL CHECK (curb_width_ft >= 0),
  out_width_ft          REAL CHECK (out_width_ft >= 0),
  bearing_deg           REAL CHECK (bearing_deg >= 0 AND bearing_deg < 360),
  material              TEXT,
  continuous            BOOLEAN,
  design                TEXT,
  lanes                 INTEGER CHECK (lanes >= 0),
  adt                   INTEGER CHECK (adt >= 0),
  adt_year              INTEGER,
  truck_pct             REAL CHECK (truck_pct BETWEEN 0 AND 100),
  climate               TEXT CHECK (climate IN ('moderate', 'cold')),
  deck_temp_min_f       REAL,
  deck_temp_max_f       REAL CHECK (deck_temp_max_f > deck_temp_min_f),
  deicing               TEXT CHECK (deicing IN ('none', 'light', 'moderate', 'heavy')),
  detour_mi             REAL CHECK (detour_mi >= 0),
  below                 TEXT,                  -- what the bridge crosses, in words
  nhs                   BOOLEAN,               -- on the National Highway System
  deck_rating           INTEGER CHECK (deck_rating BETWEEN 0 AND 9),
  superstructure_rating INTEGER CHECK (superstructure_rating BETWEEN 0 AND 9),
  substructure_rating   INTEGER CHECK (substructure_rating BETWEEN 0 AND 9),
  joints_rating         INTEGER CHECK (joints_rating BETWEEN 0 AND 9),
  inspection_months     INTEGER CHECK (inspection_months > 0),
  last_inspection       TEXT,                  -- YYYY-MM or YYYY-MM-DD
  twin                  TEXT,
  access                TEXT,
  status                TEXT NOT NULL DEFAULT 'in service' CHECK (status IN ('in service', 'retired')),
  status_on             DATE,
  source                TEXT,
  position_problem      TEXT,                  -- why the record could not be placed
  notes                 TEXT,
  created_at            DATETIME,
  created_by            TEXT,
  changed_at            DATETIME,
  changed_by            TEXT,
  UNIQUE (state, structure_number)
);
CREATE INDEX bridges_route ON bridges (route, milepost);
CREATE INDEX bridges_district ON bridges (district);

CREATE TABLE joints (
  id                  INTEGER PRIMARY KEY AUTOINCREMENT,
  uid                 TEXT UNIQUE,
  geom                LINESTRING,
  tag                 TEXT UNIQUE,             -- permanent, never used again
  label               TEXT,                    -- the agency's own
  bridge_id           INTEGER NOT NULL REFERENCES bridges (id),
  second_bridge_id    INTEGER REFERENCES bridges (id),
  place               TEXT NOT NULL DEFAULT 'unknown' CHECK (place IN
                        ('abutment', 'pier', 'hinge', 'approach slab end', 'pavement relief', 'longitudinal', 'unknown')),
  movement            TEXT NOT NULL DEFAULT 'unknown' CHECK (movement IN ('expansion', 'fixed', 'unknown')),
  sequence            INTEGER,                 -- order along the bridge, with increasing milepost
  station_ft          REAL,                    -- along the bridge from its beginning
  length_ft           REAL CHECK (length_ft > 0),
  skew_deg            REAL CHECK (skew_deg BETWEEN 0 AND 90),
  expansion_length_ft REAL CHECK (expansion_length_ft >= 0),
  expansion_assumed   BOOLEAN,
  below               TEXT,
  lanes               INTEGER CHECK (lanes >= 0),
  direction           TEXT,
  sidewalk_ft         REAL CHECK (sidewalk_ft >= 0),
  upturn_ft           REAL CHECK (upturn_ft >= 0),
  scope               TEXT NOT NULL DEFAULT 'joint' CHECK (scope IN ('joint', 'bridge quantity')),
  element             INTEGER,                 -- of a bridge quantity, as last submitted
  parent_element      INTEGER,
  origin              TEXT NOT NULL DEFAULT 'entered' CHECK (origin IN ('entered', 'surveyed', 'proposed', 'element file')),
  geometry_source     TEXT CHECK (geometry_source IN ('drawn', 'edited', 'surveyed')),
  status              TEXT NOT NULL DEFAULT 'in service' CHECK (status IN
                        ('proposed', 'in service', 'eliminated', 'retired', 'rejected', 'split')),
  status_on           DATE,
  split_from_id       INTEGER REFERENCES joints (id),
  notes               TEXT,
  created_at          DATETIME,
  created_by          TEXT,
  changed_at          DATETIME,
  changed_by          TEXT,
  CHECK (second_bridge_id <> bridge_id)
);
CREATE INDEX joints_bridge ON joints (bridge_id, sequence);
CREATE INDEX joints_second_bridge ON joints (second_bridge_id) WHERE second_bridge_id IS NOT NULL;

CREATE TABLE stretches (
  id         INTEGER PRIMARY KEY AUTOINCREMENT,
  uid        TEXT UNIQUE,
  joint_id   INTEGER NOT NULL REFERENCES joints (id),
  from_ft    REAL NOT NULL DEFAULT 0 CHECK (from_ft >= 0),
  to_ft      REAL NOT NULL CHECK (to_ft > from_ft),
  stage      TEXT,
  ended_on   DATE,                             -- when a restaging replaced it
  created_at DATETIME,
  created_by TEXT,
  changed_at DATETIME,
  changed_by TEXT
);
CREATE INDEX stretches_joint ON stretches (joint_id, from_ft);

CREATE TABLE seals (
  id                     INTEGER PRIMARY KEY AUTOINCREMENT,
  uid                    TEXT UNIQUE,
  stretch_id             INTEGER NOT NULL REFERENCES stretches (id),
  kind                   TEXT NOT NULL DEFAULT 'other',
  element                INTEGER,              -- 300-306 or the agency's own number
  size                   TEXT,
  min_open_in            REAL CHECK (min_open_in >= 0),
  max_open_in            REAL CHECK (max_open_in > min_open_in),
  header                 TEXT,
  installed_on           DATE,
  installed_precision    TEXT CHECK (installed_precision IN ('day', 'month', 'year')),
  installed_by           TEXT CHECK (installed_by IN ('in-house', 'contract')),
  contract               TEXT,
  installed_gap_in       REAL CHECK (installed_gap_in BETWEEN 0 AND 40),
  installed_deck_temp_f  REAL CHECK (installed_deck_temp_f BETWEEN -60 AND 180),
  product                TEXT,
  lot                    TEXT,
  recess_in              REAL,
  cost_cents             INTEGER CHECK (cost_cents >= 0),
  accepted_on            DATE,
  warranty_until         DATE,
  removed_on             DATE CHECK (removed_on >= installed_on),
  removed_why            TEXT,
  notes                  TEXT,
  created_at             DATETIME,
  created_by             TEXT,
  changed_at             DATETIME,
  changed_by             TEXT
);
CREATE UNIQUE INDEX seals_current ON seals (stretch_id) WHERE removed_on IS NULL;
CREATE INDEX seals_stretch ON seals (stretch_id, installed_on);

CREATE TABLE work (
  id          INTEGER PRIMARY KEY AUTOINCREMENT,
  uid         TEXT UNIQUE,
  joint_id    INTEGER NOT NULL REFERENCES joints (id),
  done_on     DATE NOT NULL,
  treatment   TEXT NOT NULL,
  from_ft     REAL NOT NULL DEFAULT 0 CHECK (from_ft >= 0),
  to_ft       REAL CHECK (to_ft > from_ft),    -- none: the whole length
  new_seal    BOOLEAN NOT NULL DEFAULT 0,
  cost_cents  INTEGER CHECK (cost_cents >= 0),
  by_whom     TEXT,
  contract    TEXT,
  notes       TEXT,
  replaces_id INTEGER UNIQUE REFERENCES work (id),
  created_at  DATETIME,
  created_by  TEXT
);
CREATE INDEX work_joint ON work (joint_id, done_on);

CREATE TABLE findings (
  id             INTEGER PRIMARY KEY AUTOINCREMENT,
  uid            TEXT UNIQUE,
  joint_id       INTEGER NOT NULL REFERENCES joints (id),
  kind           TEXT NOT NULL CHECK (kind IN
                   ('leak', 'plough strike', 'loose steel', 'spalled header', 'plate placed', 'complaint', 'damage below', 'other')),
  found_on       DATE NOT NULL,
  source         TEXT,
  from_ft        REAL CHECK (from_ft >= 0),
  to_ft          REAL CHECK (to_ft >= from_ft),
  urgency        TEXT NOT NULL DEFAULT 'routine' CHECK (urgency IN ('routine', 'soon', 'severe')),
  action         TEXT,
  owner          TEXT,
  closed_on      DATE CHECK (closed_on >= found_on),
  closed_note    TEXT,
  notes          TEXT,
  created_at     DATETIME,
  created_by     TEXT,
  changed_at     DATETIME,
  changed_by     TEXT
);
CREATE INDEX findings_joint ON findings (joint_id, found_on);
CREATE INDEX findings_open ON findings (urgency, found_on) WHERE closed_on IS NULL;

CREATE TABLE projects (
  id         INTEGER PRIMARY KEY AUTOINCREMENT,
  uid        TEXT UNIQUE,
  bridge_id  INTEGER NOT NULL REFERENCES bridges (id),
  kind       TEXT NOT NULL CHECK (kind IN ('overlay', 'deck replacement', 'bridge replacement', 'other')),
  year       INTEGER NOT NULL,
  certainty  TEXT NOT NULL DEFAULT 'likely' CHECK (certainty IN ('committed', 'likely', 'possible')),
  notes      TEXT,
  created_at DATETIME,
  created_by TEXT,
  changed_at DATETIME,
  changed_by TEXT,
  UNIQUE (bridge_id, kind, year)
);

CREATE TABLE history (
  id         INTEGER PRIMARY KEY AUTOINCREMENT,
  table_name TEXT NOT NULL,
  row_id     INTEGER NOT NULL,
  at         DATETIME NOT NULL,
  by         TEXT,
  before     TEXT NOT NULL                     -- the row as it was, JSON
);
CREATE INDEX history_row ON history (table_name, row_id, id);

-- A row drawn in a GIS has neither key: give it both.
CREATE TRIGGER joints_drawn_outside AFTER INSERT ON joints
WHEN NEW.uid IS NULL OR NEW.tag IS NULL BEGIN
  UPDATE joints SET
    uid = coalesce(uid, lower(hex(randomblob(16)))),
    tag = coalesce(tag, printf('J%06d', id)),
    geometry_source = coalesce(geometry_source, 'edited'),
    created_by = coalesce(created_by, 'outside edit'),
    created_at = coalesce(created_at, strftime('%Y-%m-%dT%H:%M:%fZ', 'now')),
    changed_at = coalesce(changed_at, strftime('%Y-%m-%dT%H:%M:%fZ', 'now'))
  WHERE id = NEW.id;
END;

CREATE TRIGGER bridges_drawn_outside AFTER INSERT ON bridges
WHEN NEW.uid IS NULL BEGIN
  UPDATE bridges SET
    uid = lower(hex(randomblob(16))),
    created_by = coalesce(created_by, 'outside edit'),
    created_at = coalesce(created_at, strftime('%Y-%m-%dT%H:%M:%fZ', 'now')),
    changed_at = coalesce(changed_at, strftime('%Y-%m-%dT%H:%M:%fZ', 'now'))
  WHERE id = NEW.id;
END;

-- A line that somebody moved is no longer the one we drew.
CREATE TRIGGER joints_moved_outside AFTER UPDATE OF geom ON joints
WHEN NEW.changed_at IS OLD.changed_at AND NEW.geometry_source = 'drawn' AND OLD.geom IS NOT NEW.geom BEGIN
  UPDATE joints SET geometry_source = 'edited' WHERE id = NEW.id;
END;

CREATE TRIGGER joints_tag_kept BEFORE UPDATE OF tag ON joints
WHEN OLD.tag IS NOT NULL AND NEW.tag IS NOT OLD.tag BEGIN
  SELECT RAISE(ABORT, 'a joint keeps its tag for ever: change its label instead');
END;
