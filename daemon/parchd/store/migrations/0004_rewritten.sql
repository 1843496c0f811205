-- Spans of time whose readings were computed anew: sinks copy them once more. channels: ids as a JSON list.
CREATE TABLE rewritten (
  id INTEGER PRIMARY KEY,
  start_us INTEGER NOT NULL,
  end_us INTEGER NOT NULL,
  channels TEXT NOT NULL
);

-- The last such span that a sink has copied.
ALTER TABLE sink ADD COLUMN rewritten INTEGER NOT NULL DEFAULT 0;
