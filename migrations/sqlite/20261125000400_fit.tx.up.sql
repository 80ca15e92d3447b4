-- Fits of the deterioration model to the agency's own inspections. A fit is
-- only ever added; forecasts rest on the one in use, or on the life table.

CREATE TABLE fits (
  id              INTEGER PRIMARY KEY AUTOINCREMENT,
  made_at         DATETIME NOT NULL,
  made_by         TEXT,
  in_use          BOOLEAN NOT NULL DEFAULT 0,
  data_from       DATE NOT NULL,               -- first and last inspection in it
  data_to         DATE NOT NULL,
  joints          INTEGER NOT NULL,
  bridges         INTEGER NOT NULL,
  intervals       INTEGER NOT NULL,
  minus_2_log_l   REAL NOT NULL,
  converged       BOOLEAN NOT NULL,
  settings        TEXT NOT NULL,               -- what was asked for, JSON
  left_out        TEXT NOT NULL,               -- intervals by reason, JSON
  estimates       TEXT NOT NULL,               -- parameters, intervals and covariance, JSON
  changed_at      DATETIME,
  changed_by      TEXT
);
CREATE UNIQUE INDEX fits_in_use ON fits (in_use) WHERE in_use;
