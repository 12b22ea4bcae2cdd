-- Entries: what was written down, in the order in which it was. A row is never
-- changed and never removed.
CREATE TABLE entry (
  seq       INTEGER PRIMARY KEY CHECK (seq > 0),              -- 1, 2, 3 ... without a gap
  at        TEXT    NOT NULL,                                 -- what the clock said, RFC 3339
  behind_ns INTEGER NOT NULL CHECK (behind_ns >= 0),          -- how far the clock was behind the entry before, nanoseconds
  trial     TEXT    NOT NULL,                                 -- '': the logbook at large
  kind      TEXT    NOT NULL CHECK (kind <> ''),
  subject   TEXT    NOT NULL,
  content   TEXT    NOT NULL,                                 -- a JSON object
  by_whom   TEXT    NOT NULL,
  device    TEXT    NOT NULL,
  said      TEXT    NOT NULL,                                 -- what the device's own clock said, RFC 3339; '': nothing
  key       TEXT    NOT NULL,                                 -- one sending, however often it was tried; '': none
  replaces  INTEGER REFERENCES entry (seq) CHECK (replaces < seq),
  undoes    INTEGER REFERENCES entry (seq) CHECK (undoes < seq),
  claim     TEXT    NOT NULL,                                 -- held by one live entry of the trial; '': none
  sum       TEXT    NOT NULL CHECK (length(sum) = 64),        -- SHA-256 over the sum before and all that is above
  CHECK (replaces IS NULL OR undoes IS NULL)
) STRICT;

CREATE INDEX entry_trial ON entry (trial, seq);
CREATE UNIQUE INDEX entry_key ON entry (key) WHERE key <> '';
CREATE INDEX entry_replaces ON entry (replaces) WHERE replaces IS NOT NULL;
CREATE INDEX entry_undoes ON entry (undoes) WHERE undoes IS NOT NULL;
CREATE INDEX entry_claim ON entry (trial, claim) WHERE claim <> '';

-- The last entry and its sum, so that entries missing at the end are noticed.
CREATE TABLE head (
  one INTEGER PRIMARY KEY CHECK (one = 1),
  seq INTEGER NOT NULL,
  sum TEXT    NOT NULL
) STRICT;

INSERT INTO head (one, seq, sum) VALUES (1, 0, '');

CREATE TRIGGER entry_is_next BEFORE INSERT ON entry
WHEN NEW.seq IS NOT (SELECT seq + 1 FROM head)
BEGIN
  SELECT RAISE(ABORT, 'entries are appended one after the other');
END;

CREATE TRIGGER entry_key_is_new BEFORE INSERT ON entry
WHEN NEW.key <> '' AND EXISTS (SELECT 1 FROM entry WHERE key = NEW.key AND key <> '')
BEGIN
  SELECT RAISE(ABORT, 'an entry with this key is there already');
END;

CREATE TRIGGER entry_is_last AFTER INSERT ON entry
BEGIN
  UPDATE head SET seq = NEW.seq, sum = NEW.sum;
END;

CREATE TRIGGER entry_stays_as_it_is BEFORE UPDATE ON entry
BEGIN
  SELECT RAISE(ABORT, 'entries are never changed: append one that replaces it');
END;

CREATE TRIGGER entry_stays BEFORE DELETE ON entry
BEGIN
  SELECT RAISE(ABORT, 'entries are never removed: append one that undoes it');
END;
