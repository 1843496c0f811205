-- When somebody asked for a message again; NULL: nobody did. New messages go first, and rates do not count it.
ALTER TABLE outbox ADD COLUMN again_us INTEGER;
