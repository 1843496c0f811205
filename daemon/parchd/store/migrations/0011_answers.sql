-- What counts once: links that were used (link/MARK), commands of programs (mqtt/SOURCE/ID, api/TOKEN/KEY). asked: what
-- was asked for; answer: what was answered, the first time. Both JSON. Kept until expires_us.
CREATE TABLE answered (
  name TEXT PRIMARY KEY,
  at_us INTEGER NOT NULL,
  asked TEXT NOT NULL,
  answer TEXT NOT NULL,
  expires_us INTEGER NOT NULL
) WITHOUT ROWID;
