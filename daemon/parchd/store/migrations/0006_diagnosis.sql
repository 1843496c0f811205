-- What the cause of a reading would be without the diagnosis; NULL: what it is.
ALTER TABLE journal ADD COLUMN own_cause INTEGER;

-- Tension that must be low before an alarm clears; NULL: the tension itself.
ALTER TABLE vote ADD COLUMN held_kpa REAL;

-- What the diagnosis found. facts: [what, value, unit] each; others: names; both JSON. ended_us: readings from then on
-- are believed; closed_us: when that became known. by, because: who dismissed it, and why. thread: of its messages.
CREATE TABLE finding (
  id INTEGER PRIMARY KEY,
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  start_us INTEGER NOT NULL,
  found_us INTEGER NOT NULL,
  recorded_us INTEGER NOT NULL,
  confidence REAL NOT NULL,
  facts TEXT NOT NULL,
  others TEXT NOT NULL,
  thread TEXT NOT NULL DEFAULT '',
  ended_us INTEGER,
  "end" TEXT,
  closed_us INTEGER,
  by TEXT NOT NULL DEFAULT '',
  because TEXT NOT NULL DEFAULT ''
);
CREATE UNIQUE INDEX finding_open ON finding (kind, subject) WHERE ended_us IS NULL;
CREATE INDEX finding_subject ON finding (subject);

-- What happened without being a fault. end_us NULL: it goes on.
CREATE TABLE event (
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  start_us INTEGER NOT NULL,
  end_us INTEGER,
  recorded_us INTEGER NOT NULL,
  facts TEXT NOT NULL,
  details TEXT NOT NULL,
  PRIMARY KEY (start_us, kind, subject)
) WITHOUT ROWID;

-- Hours that the diagnosis has summed up; channel 0: the air. summary: numbers of single precision in the order of
-- parchd.diagnosis.hours.
CREATE TABLE diagnosis_hour (
  hour INTEGER NOT NULL,
  channel_id INTEGER NOT NULL,
  summary BLOB NOT NULL,
  PRIMARY KEY (hour, channel_id)
) WITHOUT ROWID;

-- What else the diagnosis remembers of a channel, of a source (source/NAME) or of the air, as of the row seq of the
-- journal. name: of the tensiometer. first_hour: the oldest of its hours that counts. newest_us: time of its newest
-- reading. note: fields of parchd.diagnosis.standing as JSON.
CREATE TABLE diagnosis_note (
  subject TEXT PRIMARY KEY,
  name TEXT NOT NULL,
  seq INTEGER NOT NULL,
  first_hour INTEGER NOT NULL,
  newest_us INTEGER NOT NULL,
  note TEXT NOT NULL
) WITHOUT ROWID;

-- Spans of the journal whose readings are still to be marked, or to be freed of a mark: worked off from end_us towards
-- begin_us. until_us: where the span ends; changed: rows that came out different so far.
CREATE TABLE marking (
  channel_id INTEGER PRIMARY KEY,
  begin_us INTEGER NOT NULL,
  end_us INTEGER NOT NULL,
  until_us INTEGER NOT NULL,
  changed INTEGER NOT NULL DEFAULT 0
);
