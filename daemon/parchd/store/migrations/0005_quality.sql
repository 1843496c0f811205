-- What the quality tests remember of a tensiometer's channel, as of its sample of time_us: saves reading days of the
-- journal at each start. It may be deleted at any time. track: as written by parchd.store.tracks.
CREATE TABLE quality (
  channel_id INTEGER PRIMARY KEY REFERENCES channel (id),
  time_us INTEGER NOT NULL,
  bucket_us INTEGER NOT NULL,
  track TEXT NOT NULL
);
