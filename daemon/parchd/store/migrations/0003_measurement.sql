-- Expanded uncertainty of the tension (k = 2).
ALTER TABLE journal ADD COLUMN uncertainty_kpa REAL;
ALTER TABLE latest ADD COLUMN uncertainty_kpa REAL;

-- Who worked on which tensiometer, and which readings that marks.
CREATE TABLE service (
  id INTEGER PRIMARY KEY,
  recorded_us INTEGER NOT NULL,
  tensiometer TEXT NOT NULL,
  work TEXT NOT NULL,
  begin_us INTEGER NOT NULL,
  end_us INTEGER NOT NULL,
  by TEXT NOT NULL,
  note TEXT NOT NULL,
  left_m REAL,
  found_m REAL
);
