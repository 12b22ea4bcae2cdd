-- Files that came with entries: photos, traces, tables of readings. Each content
-- is kept once, under its SHA-256.
CREATE TABLE file (
  id      INTEGER PRIMARY KEY,
  sum     TEXT    NOT NULL UNIQUE CHECK (length(sum) = 64),   -- of the content as it came
  size    INTEGER NOT NULL CHECK (size >= 0),                 -- bytes, as it came
  form    TEXT    NOT NULL CHECK (form IN ('plain', 'zstd')), -- how it is kept
  content BLOB    NOT NULL
) STRICT;

CREATE TABLE entry_file (
  seq        INTEGER NOT NULL REFERENCES entry (seq),
  place      INTEGER NOT NULL CHECK (place >= 0),             -- 0, 1, 2 ... within the entry
  role       TEXT    NOT NULL,
  name       TEXT    NOT NULL,
  media_type TEXT    NOT NULL,
  sum        TEXT    NOT NULL REFERENCES file (sum),
  PRIMARY KEY (seq, place)
) STRICT, WITHOUT ROWID;

CREATE INDEX entry_file_sum ON entry_file (sum);

CREATE TRIGGER file_is_new BEFORE INSERT ON file
WHEN EXISTS (SELECT 1 FROM file WHERE sum = NEW.sum OR id = NEW.id)
BEGIN
  SELECT RAISE(ABORT, 'this file is there already');
END;

CREATE TRIGGER file_stays_as_it_is BEFORE UPDATE ON file
BEGIN
  SELECT RAISE(ABORT, 'files are never changed');
END;

CREATE TRIGGER file_stays BEFORE DELETE ON file
BEGIN
  SELECT RAISE(ABORT, 'files are never removed');
END;

CREATE TRIGGER entry_file_is_new BEFORE INSERT ON entry_file
WHEN EXISTS (SELECT 1 FROM entry_file WHERE seq = NEW.seq AND place = NEW.place)
BEGIN
  SELECT RAISE(ABORT, 'the entry has this file already');
END;

CREATE TRIGGER entry_file_stays_as_it_is BEFORE UPDATE ON entry_file
BEGIN
  SELECT RAISE(ABORT, 'what belongs to an entry is never changed');
END;

CREATE TRIGGER entry_file_stays BEFORE DELETE ON entry_file
BEGIN
  SELECT RAISE(ABORT, 'what belongs to an entry is never removed');
END;
