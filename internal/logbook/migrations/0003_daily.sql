-- Daily backups that were made beside the file, so that only those are ever
-- removed to make room for newer ones.
CREATE TABLE daily (
  id   INTEGER PRIMARY KEY,
  name TEXT    NOT NULL UNIQUE,  -- without the folder
  day  TEXT    NOT NULL,         -- by the clock of that day, 2027-04-12
  seq  INTEGER NOT NULL,         -- the last entry in it
  sum  TEXT    NOT NULL          -- SHA-256 of the backup file
) STRICT;
