-- What the opening check needs beside the readings: the catalogue of seals, and
-- deck temperatures by district.

-- A reading of one cell of a modular joint stands for all of them.
ALTER TABLE readings ADD COLUMN cells INTEGER CHECK (cells > 1);

-- Openings square to the joint line. A limit that is not given is none.
CREATE TABLE seal_catalogue (
  id             INTEGER PRIMARY KEY AUTOINCREMENT,
  name           TEXT NOT NULL UNIQUE,
  kind           TEXT NOT NULL,
  size           TEXT NOT NULL,
  min_open_in    REAL CHECK (min_open_in >= 0),
  max_open_in    REAL CHECK (max_open_in > min_open_in),
  open_share     REAL CHECK (open_share > 0),      -- of the width when installed: how far it may open
  close_share    REAL CHECK (close_share BETWEEN 0 AND 1),
  movement_share REAL CHECK (movement_share > 0),  -- of the width when installed: the whole movement
  movement_in    REAL CHECK (movement_in > 0),     -- the whole movement
  cells          INTEGER CHECK (cells > 1),        -- of a modular joint
  width_in       REAL CHECK (width_in > 0),        -- uncompressed
  install_min_in REAL CHECK (install_min_in >= 0),
  install_max_in REAL CHECK (install_max_in > install_min_in),
  racking_in     REAL CHECK (racking_in > 0),
  skew_max_deg   REAL CHECK (skew_max_deg > 0),
  install_deck_temp_min_f REAL,                    -- lowest deck temperature to install at
  source         TEXT NOT NULL,
  illustrative   BOOLEAN NOT NULL DEFAULT 1,
  changed_at     DATETIME,
  changed_by     TEXT,
  CHECK (max_open_in IS NOT NULL OR open_share IS NOT NULL OR movement_share IS NOT NULL OR movement_in IS NOT NULL)
);

-- An agency's own range of deck temperatures, in place of the one by material
-- and climate. The district '*' is all others.
CREATE TABLE deck_temperatures (
  id              INTEGER PRIMARY KEY AUTOINCREMENT,
  district        TEXT NOT NULL UNIQUE,
  deck_temp_min_f REAL NOT NULL,
  deck_temp_max_f REAL NOT NULL CHECK (deck_temp_max_f > deck_temp_min_f),
  source          TEXT NOT NULL,
  changed_at      DATETIME,
  changed_by      TEXT
);

INSERT INTO seal_catalogue (name, kind, size, min_open_in, max_open_in, open_share, close_share, movement_share, movement_in,
  cells, width_in, install_min_in, install_max_in, racking_in, skew_max_deg, install_deck_temp_min_f, source, illustrative) VALUES
  ('poured silicone, width of the opening', 'poured silicone', 'width of the opening', NULL, NULL, 1, 0.5, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 30, 40,
   'Idaho Bridge Design Manual, section 14: +100 %/−50 % of width at installation, skew under 30°; installation at 40 °F and rising: common practice, no source', 0),
  ('poured sealant, width of the opening', 'poured sealant', 'width of the opening', NULL, NULL, NULL, NULL, 1.0 / 6, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 40,
   'AASHTO LRFD 14.5.6.5, from memory: width at least 6 times the movement; installation at 40 °F and rising: common practice, no source', 0),
  ('asphaltic plug, 1 in movement', 'asphaltic plug', '1 in movement', NULL, NULL, NULL, NULL, NULL, 1, NULL, NULL, NULL, NULL, NULL, NULL, 45,
   'about 1 in of movement in all, abstract of a New England study; 45 °F and dry from memory', 0),
  ('preformed gland, 1½ in movement', 'preformed gland', '1½ in movement', 0.5, 2, NULL, NULL, NULL, NULL, NULL, NULL, 1, 2, 0.225, 45, 40,
   'Missouri DOT table of preformed silicone and EPDM glands: skew to 45°, racking 15 % of movement; installation at 40 °F and rising: common practice, no source', 0),
  ('preformed gland, 2¼ in movement', 'preformed gland', '2¼ in movement', 0.75, 3, NULL, NULL, NULL, NULL, NULL, NULL, 1.25, 3, 0.34, 45, 40,
   'Missouri DOT table of preformed silicone and EPDM glands: skew to 45°, racking 15 % of movement; installation at 40 °F and rising: common practice, no source', 0),
  ('preformed gland, 3 in movement', 'preformed gland', '3 in movement', 0.625, 3.625, NULL, NULL, NULL, NULL, NULL, NULL, 1.5, 3.5, 0.45, 45, 40,
   'Missouri DOT table of preformed silicone and EPDM glands: skew to 45°, racking 15 % of movement; installation at 40 °F and rising: common practice, no source', 0),
  ('preformed gland, 4 in movement', 'preformed gland', '4 in movement', 1, 5, NULL, NULL, NULL, NULL, NULL, NULL, 2.5, 4, 0.6, 45, 40,
   'Missouri DOT table of preformed silicone and EPDM glands: skew to 45°, racking 15 % of movement; installation at 40 °F and rising: common practice, no source', 0),
  ('compression seal, 2 in wide', 'compression seal', '2 in wide', 0.8, 1.7, NULL, NULL, NULL, NULL, NULL, 2, NULL, NULL, 0.44, 30, 40,
   '0.40 to 0.85 of width and racking 0.22, from memory of WSDOT Bridge Design Manual M 23-50 ch. 9.1; width to 4 in and skew to 30°, Idaho Bridge Design Manual, section 14; installation at 40 °F and rising: common practice, no source', 0),
  ('compression seal, 2.5 in wide', 'compression seal', '2.5 in wide', 1, 2.125, NULL, NULL, NULL, NULL, NULL, 2.5, NULL, NULL, 0.55, 30, 40,
   '0.40 to 0.85 of width and racking 0.22, from memory of WSDOT Bridge Design Manual M 23-50 ch. 9.1; width to 4 in and skew to 30°, Idaho Bridge Design Manual, section 14; installation at 40 °F and rising: common practice, no source', 0),
  ('compression seal, 3 in wide', 'compression seal', '3 in wide', 1.2, 2.55, NULL, NULL, NULL, NULL, NULL, 3, NULL, NULL, 0.66, 30, 40,
   '0.40 to 0.85 of width and racking 0.22, from memory of WSDOT Bridge Design Manual M 23-50 ch. 9.1; width to 4 in and skew to 30°, Idaho Bridge Design Manual, section 14; installation at 40 °F and rising: common practice, no source', 0),
  ('compression seal, 3.5 in wide', 'compression seal', '3.5 in wide', 1.4, 2.975, NULL, NULL, NULL, NULL, NULL, 3.5, NULL, NULL, 0.77, 30, 40,
   '0.40 to 0.85 of width and racking 0.22, from memory of WSDOT Bridge Design Manual M 23-50 ch. 9.1; width to 4 in and skew to 30°, Idaho Bridge Design Manual, section 14; installation at 40 °F and rising: common practice, no source', 0),
  ('compression seal, 4 in wide', 'compression seal', '4 in wide', 1.6, 3.4, NULL, NULL, NULL, NULL, NULL, 4, NULL, NULL, 0.88, 30, 40,
   '0.40 to 0.85 of width and racking 0.22, from memory of WSDOT Bridge Design Manual M 23-50 ch. 9.1; width to 4 in and skew to 30°, Idaho Bridge Design Manual, section 14; installation at 40 °F and rising: common practice, no source', 0),
  ('closed-cell foam, 1 in wide', 'closed-cell foam', '1 in wide', 0.4, 1, NULL, NULL, NULL, NULL, NULL, 1, NULL, NULL, NULL, NULL, 40,
   'always in compression, New Hampshire DOT Design Memo 2018-02; the 40 % least width is illustrative; installation at 40 °F and rising: common practice, no source', 1),
  ('closed-cell foam, 2 in wide', 'closed-cell foam', '2 in wide', 0.8, 2, NULL, NULL, NULL, NULL, NULL, 2, NULL, NULL, NULL, NULL, 40,
   'always in compression, New Hampshire DOT Design Memo 2018-02; the 40 % least width is illustrative; installation at 40 °F and rising: common practice, no source', 1),
  ('closed-cell foam, 3 in wide', 'closed-cell foam', '3 in wide', 1.2, 3, NULL, NULL, NULL, NULL, NULL, 3, NULL, NULL, NULL, NULL, 40,
   'always in compression, New Hampshire DOT Design Memo 2018-02; the 40 % least width is illustrative; installation at 40 °F and rising: common practice, no source', 1),
  ('closed-cell foam, 4 in wide', 'closed-cell foam', '4 in wide', 1.6, 4, NULL, NULL, NULL, NULL, NULL, 4, NULL, NULL, NULL, NULL, 40,
   'always in compression, New Hampshire DOT Design Memo 2018-02; the 40 % least width is illustrative; installation at 40 °F and rising: common practice, no source', 1),
  ('strip seal, 3 in', 'strip seal', '3 in', 0, 3, NULL, NULL, NULL, NULL, NULL, NULL, 1.5, NULL, NULL, NULL, 40,
   '1½ in to install a gland, WSDOT design memo 11-2008; closes fully, size is the largest opening, from memory; installation at 40 °F and rising: common practice, no source', 0),
  ('strip seal, 4 in', 'strip seal', '4 in', 0, 4, NULL, NULL, NULL, NULL, NULL, NULL, 1.5, NULL, NULL, NULL, 40,
   '1½ in to install a gland, WSDOT design memo 11-2008; closes fully, size is the largest opening, from memory; installation at 40 °F and rising: common practice, no source', 0),
  ('strip seal, 5 in', 'strip seal', '5 in', 0, 5, NULL, NULL, NULL, NULL, NULL, NULL, 1.5, NULL, NULL, NULL, 40,
   '1½ in to install a gland, WSDOT design memo 11-2008; closes fully, size is the largest opening, from memory; installation at 40 °F and rising: common practice, no source', 0),
  ('modular joint, 2 cells of 3 in', 'modular joint', '2 cells of 3 in', 0, 6, NULL, NULL, NULL, NULL, 2, NULL, 3, NULL, NULL, NULL, NULL,
   'AASHTO LRFD 14.5.3.2, from memory: 3 in a cell; openings are clear, without centre beams; 1½ in a cell to change a seal, from memory', 0),
  ('modular joint, 3 cells of 3 in', 'modular joint', '3 cells of 3 in', 0, 9, NULL, NULL, NULL, NULL, 3, NULL, 4.5, NULL, NULL, NULL, NULL,
   'AASHTO LRFD 14.5.3.2, from memory: 3 in a cell; openings are clear, without centre beams; 1½ in a cell to change a seal, from memory', 0),
  ('modular joint, 4 cells of 3 in', 'modular joint', '4 cells of 3 in', 0, 12, NULL, NULL, NULL, NULL, 4, NULL, 6, NULL, NULL, NULL, NULL,
   'AASHTO LRFD 14.5.3.2, from memory: 3 in a cell; openings are clear, without centre beams; 1½ in a cell to change a seal, from memory', 0),
  ('modular joint, 5 cells of 3 in', 'modular joint', '5 cells of 3 in', 0, 15, NULL, NULL, NULL, NULL, 5, NULL, 7.5, NULL, NULL, NULL, NULL,
   'AASHTO LRFD 14.5.3.2, from memory: 3 in a cell; openings are clear, without centre beams; 1½ in a cell to change a seal, from memory', 0),
  ('modular joint, 6 cells of 3 in', 'modular joint', '6 cells of 3 in', 0, 18, NULL, NULL, NULL, NULL, 6, NULL, 9, NULL, NULL, NULL, NULL,
   'AASHTO LRFD 14.5.3.2, from memory: 3 in a cell; openings are clear, without centre beams; 1½ in a cell to change a seal, from memory', 0),
  ('modular joint, 7 cells of 3 in', 'modular joint', '7 cells of 3 in', 0, 21, NULL, NULL, NULL, NULL, 7, NULL, 10.5, NULL, NULL, NULL, NULL,
   'AASHTO LRFD 14.5.3.2, from memory: 3 in a cell; openings are clear, without centre beams; 1½ in a cell to change a seal, from memory', 0),
  ('modular joint, 8 cells of 3 in', 'modular joint', '8 cells of 3 in', 0, 24, NULL, NULL, NULL, NULL, 8, NULL, 12, NULL, NULL, NULL, NULL,
   'AASHTO LRFD 14.5.3.2, from memory: 3 in a cell; openings are clear, without centre beams; 1½ in a cell to change a seal, from memory', 0);
