-- How each alarm stands that is not at rest. is_on: its condition holds. raised_us: names its episode. until_us: when a
-- shelf ends. by_design: why it is suppressed.
CREATE TABLE alarm_standing (
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  state TEXT NOT NULL,
  is_on INTEGER NOT NULL,
  since_us INTEGER NOT NULL,
  raised_us INTEGER,
  by TEXT NOT NULL DEFAULT '',
  why TEXT NOT NULL DEFAULT '',
  via TEXT NOT NULL DEFAULT '',
  until_us INTEGER,
  acknowledged_us INTEGER,
  repeated_us INTEGER,
  by_design TEXT NOT NULL DEFAULT '',
  PRIMARY KEY (kind, subject)
) WITHOUT ROWID;

-- Every step in the life of every alarm, in order; nothing is ever changed or deleted. The standings follow from it.
-- event_id: what the judge said, where one did.
CREATE TABLE alarm_transition (
  id INTEGER PRIMARY KEY,
  time_us INTEGER NOT NULL,
  kind TEXT NOT NULL,
  subject TEXT NOT NULL,
  before TEXT NOT NULL,
  happening TEXT NOT NULL,
  after TEXT NOT NULL,
  raised_us INTEGER,
  by TEXT NOT NULL,
  why TEXT NOT NULL,
  until_us INTEGER,
  via TEXT NOT NULL,
  event_id INTEGER REFERENCES alarm_event (id)
);
CREATE INDEX alarm_transition_time ON alarm_transition (time_us);

-- The raise of an episode is looked up when its alarm is told again.
CREATE INDEX alarm_event_episode ON alarm_event (raised_us, subject, kind);

-- Alarms that are active already begin their life unacknowledged.
INSERT INTO alarm_transition (time_us, kind, subject, before, happening, after, raised_us, by, why, via, event_id)
  SELECT raised_us, kind, subject, 'normal', 'raised', 'unacknowledged', raised_us, '', '', 'judge',
    (SELECT max(id) FROM alarm_event AS e
      WHERE e.kind = alarm.kind AND e.subject = alarm.subject AND e.raised_us = alarm.raised_us AND change = 'raised')
  FROM alarm WHERE phase IN ('active', 'clearing') AND raised_us IS NOT NULL ORDER BY raised_us, kind, subject;
INSERT INTO alarm_standing (kind, subject, state, is_on, since_us, raised_us, via)
  SELECT kind, subject, after, 1, time_us, raised_us, via FROM alarm_transition ORDER BY kind, subject;
