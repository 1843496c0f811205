-- What must be remembered to tell people, see parchd.people.state. Whom each alarm that is not over was told; JSON.
CREATE TABLE told_alarm (
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  episode TEXT NOT NULL,
  PRIMARY KEY (kind, subject)
) WITHOUT ROWID;

-- When each alarm was raised within the last day; JSON.
CREATE TABLE told_raise (
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  raised_us TEXT NOT NULL,
  PRIMARY KEY (kind, subject)
) WITHOUT ROWID;

-- What is remembered of each person, but for what waits for them; JSON.
CREATE TABLE told_person (
  person TEXT PRIMARY KEY,
  state TEXT NOT NULL
) WITHOUT ROWID;

-- What waits for each person, in the order of since_us and id; JSON.
CREATE TABLE told_item (
  id INTEGER PRIMARY KEY,
  person TEXT NOT NULL,
  lane TEXT NOT NULL,
  thread TEXT NOT NULL,
  kind TEXT NOT NULL,
  since_us INTEGER NOT NULL,
  item TEXT NOT NULL,
  UNIQUE (person, lane, thread, kind)
);

-- The messages that people were sent, for reports. alarms: how many asked for a response in it. notice: its id before
-- each copy of it got its own.
CREATE TABLE telling (
  id INTEGER PRIMARY KEY,
  time_us INTEGER NOT NULL,
  person TEXT NOT NULL,
  kind TEXT NOT NULL,
  priority INTEGER NOT NULL,
  alarms INTEGER NOT NULL,
  notice TEXT NOT NULL
);
CREATE INDEX telling_time ON telling (time_us);

-- More alarms for a person than anybody can read. end_us NULL: it goes on. alarms: how many there were.
CREATE TABLE alarm_flood (
  person TEXT NOT NULL,
  start_us INTEGER NOT NULL,
  end_us INTEGER,
  alarms INTEGER NOT NULL,
  PRIMARY KEY (start_us, person)
) WITHOUT ROWID;

-- Each person has a day of their own now.
DELETE FROM meta WHERE key = 'digest_day';
