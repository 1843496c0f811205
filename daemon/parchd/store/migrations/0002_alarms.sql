-- Conditions that are not normal.
CREATE TABLE alarm (
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  phase TEXT NOT NULL,
  since_us INTEGER NOT NULL,
  count INTEGER NOT NULL,
  raised_us INTEGER,
  PRIMARY KEY (kind, subject)
) WITHOUT ROWID;

-- The last deciding reading of each tensiometer for each irrigation rule.
CREATE TABLE vote (
  subject TEXT NOT NULL,
  tensiometer TEXT NOT NULL,
  time_us INTEGER NOT NULL,
  tension_kpa REAL NOT NULL,
  PRIMARY KEY (subject, tensiometer)
) WITHOUT ROWID;

CREATE TABLE alarm_event (
  id INTEGER PRIMARY KEY,
  recorded_us INTEGER NOT NULL,
  time_us INTEGER NOT NULL,
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  change TEXT NOT NULL,
  raised_us INTEGER NOT NULL,
  tension_kpa REAL,
  limit_kpa REAL,
  evidence TEXT NOT NULL
);
CREATE INDEX alarm_event_time ON alarm_event (time_us);

-- Messages on their way. state: waiting (held by rate or quiet hours), ready, sent, merged, refused.
CREATE TABLE outbox (
  id INTEGER PRIMARY KEY,
  notice_id TEXT NOT NULL UNIQUE,
  notifier TEXT NOT NULL,
  recipient TEXT NOT NULL,
  kind TEXT NOT NULL,
  priority INTEGER NOT NULL,
  created_us INTEGER NOT NULL,
  state TEXT NOT NULL,
  attempts INTEGER NOT NULL DEFAULT 0,
  next_us INTEGER NOT NULL DEFAULT 0,
  done_us INTEGER,
  trouble TEXT NOT NULL DEFAULT '',
  notice TEXT NOT NULL
);
CREATE INDEX outbox_open ON outbox (notifier, state, next_us) WHERE state IN ('waiting', 'ready');
CREATE INDEX outbox_done ON outbox (notifier, recipient, done_us) WHERE state = 'sent';

-- A notifier whose receiver wants no more messages, until its configuration changes.
CREATE TABLE disabled (
  notifier TEXT PRIMARY KEY,
  fingerprint TEXT NOT NULL,
  at_us INTEGER NOT NULL,
  reason TEXT NOT NULL
) WITHOUT ROWID;
