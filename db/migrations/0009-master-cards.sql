-- The header of a master that was taken in as it is, kept like a frame's, and what a person told of it where the header is silent
-- (JSON, as `addMasters` takes it). Masters that were built here follow their frames instead.
CREATE TABLE master_cards (
  master_id INTEGER PRIMARY KEY REFERENCES masters (id),
  pattern_id INTEGER NOT NULL REFERENCES header_patterns (id),
  delta BLOB NOT NULL,
  answers TEXT NOT NULL
) STRICT;

-- Flats that were logged before what lit them was kept are described again at the next start.
INSERT INTO settings (name, value) SELECT 'describeAgain', '["flats"]' WHERE EXISTS (SELECT 1 FROM frames WHERE kind = 'flat')
  ON CONFLICT DO UPDATE SET value = iif(value = '"all"', value, json_insert(value, '$[#]', 'flats'));
