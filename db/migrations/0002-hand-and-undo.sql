-- What a person decided about a frame: it outlives every new reading of its header.
CREATE TABLE frame_hands (
  frame_id INTEGER PRIMARY KEY REFERENCES frames (id),
  -- its kind, whatever the header says; null: as the header says
  kind TEXT,
  -- 1: set aside, 0: back in every need, null: as the words say
  aside INTEGER,
  at TEXT NOT NULL
) STRICT;

-- What was done to the library and to rigs, and how it is taken back (JSON); kept for 30 days.
CREATE TABLE undo_steps (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  at TEXT NOT NULL,
  text TEXT NOT NULL,
  back TEXT NOT NULL,
  undone_at TEXT
) STRICT;
