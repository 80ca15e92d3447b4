-- The months in which a seal can be installed, by its kind and the climate. They
-- are illustrative, common practice without a source: poured and glued seals want
-- a dry, mild deck; a gland in steel rails goes in at any time of the year.

CREATE TABLE seasons (
  id           INTEGER PRIMARY KEY AUTOINCREMENT,
  name         TEXT NOT NULL UNIQUE,
  seal_kind    TEXT NOT NULL DEFAULT '',  -- none: any
  climate      TEXT NOT NULL DEFAULT '' CHECK (climate IN ('', 'moderate', 'cold')),  -- none: any
  first_month  INTEGER NOT NULL CHECK (first_month BETWEEN 1 AND 12),
  last_month   INTEGER NOT NULL CHECK (last_month BETWEEN 1 AND 12),  -- before the first: of the next year
  source       TEXT NOT NULL,
  illustrative BOOLEAN NOT NULL DEFAULT 0,
  changed_at   DATETIME,
  changed_by   TEXT
);
CREATE UNIQUE INDEX seasons_of ON seasons (seal_kind, climate);

INSERT INTO seasons (name, seal_kind, climate, first_month, last_month, source, illustrative) VALUES
  ('poured', 'pourable seal', '', 4, 10, 'common practice, no source', 1),
  ('poured, cold', 'pourable seal', 'cold', 5, 9, 'common practice, no source', 1),
  ('glued compression', 'compression seal', '', 4, 10, 'common practice, no source', 1),
  ('glued compression, cold', 'compression seal', 'cold', 5, 9, 'common practice, no source', 1),
  ('glued foam', 'foam seal', '', 4, 10, 'common practice, no source', 1),
  ('glued foam, cold', 'foam seal', 'cold', 5, 9, 'common practice, no source', 1);
