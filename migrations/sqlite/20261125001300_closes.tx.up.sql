-- Fiscal years that were closed: each with the copy of the whole inventory that
-- was made then, which lies beside it.

CREATE TABLE closes (
  id         INTEGER PRIMARY KEY AUTOINCREMENT,
  uid        TEXT UNIQUE,
  year       INTEGER NOT NULL UNIQUE,          -- fiscal
  made_on    DATE NOT NULL,
  file       TEXT NOT NULL,                    -- name of the copy, beside the inventory
  sha256     TEXT NOT NULL,
  bytes      INTEGER NOT NULL,
  created_at DATETIME,
  created_by TEXT
);
