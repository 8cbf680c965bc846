-- What the entries amount to. Every row can be made again from the entries, and is when this file changes.
DROP TABLE IF EXISTS subject;
DROP TABLE IF EXISTS mention;
DROP TABLE IF EXISTS tally;
DROP TABLE IF EXISTS stamp;
DROP TABLE IF EXISTS counted;

CREATE TABLE subject (
  kind          TEXT NOT NULL,
  id            TEXT NOT NULL,
  parent        TEXT NOT NULL,
  label         TEXT NOT NULL,
  last_recorded TEXT NOT NULL,
  last_arrived  INTEGER NOT NULL,  -- changes whenever the state may have: readers keep decoded states by it
  state         TEXT NOT NULL,     -- last, so that the columns before it are read without it
  PRIMARY KEY (kind, id)
) STRICT;

CREATE INDEX subject_children ON subject (kind, parent, label, id);
CREATE INDEX subject_list ON subject (kind, label, id);

-- What the states point at, so that "who was tested with this lot" is one look-up.
CREATE TABLE mention (
  kind   TEXT NOT NULL,
  id     TEXT NOT NULL,
  parent TEXT NOT NULL,
  name   TEXT NOT NULL,
  value  TEXT NOT NULL,
  at     INTEGER NOT NULL  -- milliseconds since 1970
) STRICT;

CREATE INDEX mention_value ON mention (kind, parent, name, value, at);
CREATE INDEX mention_subject ON mention (kind, id);

-- The same over all parents, for a look-back: what it asks is answered from the index alone.
CREATE INDEX mention_across ON mention (kind, name, value, at, id);

-- What each subject counts as in reports, in one short line that its own package reads, so that a report over a season need
-- not decode a state.
CREATE TABLE tally (
  kind   TEXT NOT NULL,
  parent TEXT NOT NULL,
  id     TEXT NOT NULL,
  line   TEXT NOT NULL,
  PRIMARY KEY (kind, parent, id)
) STRICT, WITHOUT ROWID;

-- When anything that counts last changed with a parent or below it: the last arrival among those subjects.
CREATE TABLE stamp (
  parent  TEXT PRIMARY KEY,
  arrived INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- What the tallies below a parent came to when somebody last counted them, so that a report need not count them again. A row is
-- nothing once the stamp of its parent is another. All of it may be thrown away.
CREATE TABLE counted (
  name   TEXT NOT NULL,     -- of the count
  parent TEXT NOT NULL,
  stamp  INTEGER NOT NULL,  -- as it stood when it was counted
  line   TEXT NOT NULL,
  PRIMARY KEY (name, parent)
) STRICT, WITHOUT ROWID;
