-- What a source, sink or notifier cannot do now. part: the recipient, of a notifier, else empty. final: trying again is of
-- no use.
CREATE TABLE trouble (
  subject TEXT NOT NULL,
  part TEXT NOT NULL,
  since_us INTEGER NOT NULL,
  text TEXT NOT NULL,
  final INTEGER NOT NULL,
  PRIMARY KEY (subject, part)
) WITHOUT ROWID;
