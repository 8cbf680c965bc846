-- The record. Forward only: a later version adds steps, and never edits this one.

CREATE TABLE meta (
  key   TEXT PRIMARY KEY,
  value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- The laptops whose chains are held here, each with the signed end of its chain.
CREATE TABLE node (
  node      TEXT PRIMARY KEY,
  public    BLOB NOT NULL,
  seq       INTEGER NOT NULL,
  hash      BLOB NOT NULL,
  signature BLOB NOT NULL
) STRICT, WITHOUT ROWID;

-- One row per entry. bytes is the entry; the other columns only find it.
CREATE TABLE entry (
  arrived      INTEGER PRIMARY KEY,  -- order of arrival on this laptop; not part of the record
  node         TEXT NOT NULL REFERENCES node (node),
  seq          INTEGER NOT NULL,
  id           TEXT NOT NULL,  -- two laptops may both have taken one act; it is folded once
  subject_kind TEXT NOT NULL,
  subject_id   TEXT NOT NULL,
  recorded     TEXT NOT NULL,
  corrects     TEXT NOT NULL,
  bytes        BLOB NOT NULL,
  hash         BLOB NOT NULL,
  UNIQUE (node, seq)
) STRICT;

CREATE INDEX entry_id ON entry (id);
CREATE INDEX entry_subject ON entry (subject_kind, subject_id, recorded, node, seq);
CREATE INDEX entry_recorded ON entry (recorded, node, seq);
CREATE INDEX entry_corrects ON entry (corrects) WHERE corrects <> '';

CREATE TRIGGER entry_is_never_changed BEFORE UPDATE ON entry BEGIN
  SELECT RAISE (ABORT, 'an entry is never changed');
END;

CREATE TRIGGER entry_is_never_deleted BEFORE DELETE ON entry BEGIN
  SELECT RAISE (ABORT, 'an entry is never deleted');
END;

-- One key per subject with personal data, wrapped by the programme key. wrapped is NULL once it was destroyed.
CREATE TABLE subject_key (
  kind      TEXT NOT NULL,
  id        TEXT NOT NULL,
  wrapped   BLOB,
  destroyed TEXT NOT NULL DEFAULT '',
  PRIMARY KEY (kind, id)
) STRICT, WITHOUT ROWID;

-- What a command answered, kept with the facts that it made: a second press gets the same answer.
CREATE TABLE command (
  id     TEXT PRIMARY KEY,
  at     TEXT NOT NULL,
  result BLOB NOT NULL
) STRICT;

-- Sign-in sessions and device settings: not part of the record, never sent anywhere.
CREATE TABLE local (
  bucket TEXT NOT NULL,
  key    TEXT NOT NULL,
  value  BLOB NOT NULL,
  PRIMARY KEY (bucket, key)
) STRICT, WITHOUT ROWID;
