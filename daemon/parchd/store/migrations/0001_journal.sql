-- Names of channels, so that a row of the journal carries a small number.
CREATE TABLE channel (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE
);

-- Raw samples and what was made of them. Time-major: a commit touches the last pages only.
-- unit, time_source, flag and cause hold the numbers listed in parchd.store.codes.
CREATE TABLE journal (
  time_us INTEGER NOT NULL,
  channel_id INTEGER NOT NULL REFERENCES channel (id),
  seq INTEGER NOT NULL,
  received_us INTEGER NOT NULL,
  value REAL,
  unit INTEGER NOT NULL,
  time_source INTEGER NOT NULL,
  gauge_kpa REAL,
  tension_kpa REAL,
  flag INTEGER NOT NULL,
  cause INTEGER NOT NULL,
  late INTEGER NOT NULL,
  calibration TEXT NOT NULL,
  PRIMARY KEY (time_us, channel_id)
) WITHOUT ROWID;

-- The order of writing: what sinks follow.
CREATE UNIQUE INDEX journal_seq ON journal (seq);

-- The newest believed sample of each channel, so that neither a start nor a status needs to search the journal.
CREATE TABLE latest (
  channel_id INTEGER PRIMARY KEY REFERENCES channel (id),
  time_us INTEGER NOT NULL,
  received_us INTEGER NOT NULL,
  value REAL,
  unit INTEGER NOT NULL,
  gauge_kpa REAL,
  tension_kpa REAL,
  flag INTEGER NOT NULL,
  cause INTEGER NOT NULL,
  heard_us INTEGER NOT NULL
);

CREATE TABLE meta (
  key TEXT PRIMARY KEY,
  value TEXT NOT NULL
) WITHOUT ROWID;

CREATE TABLE sink (
  name TEXT PRIMARY KEY,
  seq INTEGER NOT NULL,
  updated_us INTEGER NOT NULL,
  trouble TEXT NOT NULL DEFAULT ''
) WITHOUT ROWID;

-- Rows a sink's server will never take, with its reason.
CREATE TABLE rejected (
  sink TEXT NOT NULL,
  seq INTEGER NOT NULL,
  at_us INTEGER NOT NULL,
  reason TEXT NOT NULL,
  PRIMARY KEY (sink, seq)
) WITHOUT ROWID;
