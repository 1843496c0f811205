-- The last word about each level of a rule over readings and findings; level: whose, of what, and its limit.
CREATE TABLE rule_level (
  level TEXT PRIMARY KEY,
  holds INTEGER NOT NULL,
  value REAL NOT NULL,
  since_us INTEGER NOT NULL,
  seen_us INTEGER NOT NULL
) WITHOUT ROWID;

-- The first deciding reading of each hour of the last mornings, of tensiometers whose rise a rule asks for.
CREATE TABLE morning (
  tensiometer TEXT NOT NULL,
  hour INTEGER NOT NULL,
  kpa REAL NOT NULL,
  PRIMARY KEY (tensiometer, hour)
) WITHOUT ROWID;

-- When each source was there again after it could not be reached, or was silent as a whole.
CREATE TABLE reached (
  source TEXT PRIMARY KEY,
  at_us INTEGER NOT NULL
) WITHOUT ROWID;
