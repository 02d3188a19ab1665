-- What is logged, kept and decided. Times are UTC, ISO 8601; a night is the date on which it began.

CREATE TABLE folders (
  id INTEGER PRIMARY KEY,
  path TEXT NOT NULL UNIQUE,
  -- 1 while the folder is watched; 0 for one that was only logged, or that is watched no more
  watched INTEGER NOT NULL,
  added_at TEXT NOT NULL
) STRICT;

CREATE TABLE rigs (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE
) STRICT;

-- What stands before which camera since when: the newest row at or before a frame's start holds for it.
CREATE TABLE rig_spans (
  id INTEGER PRIMARY KEY,
  rig_id INTEGER NOT NULL REFERENCES rigs (id),
  since TEXT NOT NULL,
  folder TEXT,
  camera TEXT,
  body TEXT,
  train TEXT,
  filter TEXT,
  site_name TEXT,
  site_lat_deg REAL,
  site_long_deg REAL,
  UNIQUE (rig_id, since)
) STRICT;

CREATE TABLE train_changes (
  id INTEGER PRIMARY KEY,
  rig TEXT NOT NULL,
  scope TEXT NOT NULL,
  filter TEXT,
  at TEXT NOT NULL,
  text TEXT NOT NULL,
  closes INTEGER NOT NULL,
  logged_at TEXT NOT NULL,
  undone_at TEXT
) STRICT;
CREATE INDEX train_changes_by_rig ON train_changes (rig, at);

-- The texts of the must-be-equal fields, once each; frames point to them. A cache: can be made again from the frames.
CREATE TABLE match_keys (
  id INTEGER PRIMARY KEY,
  text TEXT NOT NULL UNIQUE
) STRICT;

CREATE TABLE frames (
  id INTEGER PRIMARY KEY,
  -- SHA-256 over header bytes, exact length and the last 4 KiB of the file: what makes it the same frame
  fingerprint BLOB NOT NULL UNIQUE,
  path TEXT NOT NULL,
  size INTEGER NOT NULL,
  state TEXT NOT NULL,
  -- why it is broken, one sentence
  problem TEXT,
  kind TEXT NOT NULL,
  kind_from TEXT NOT NULL,
  night TEXT NOT NULL,
  started_at TEXT,
  aside INTEGER NOT NULL,
  aside_why TEXT,
  target TEXT,
  camera TEXT,
  body TEXT,
  width INTEGER,
  height INTEGER,
  origin_x REAL,
  origin_y REAL,
  binning TEXT,
  readout ANY,
  gain ANY,
  "offset" ANY,
  set_temp_c REAL,
  sensor_temp_c REAL,
  exposure_s REAL,
  filter TEXT,
  telescope TEXT,
  focal_mm REAL,
  mech_angle_deg REAL,
  sky_angle_deg REAL,
  cfa TEXT,
  row_order TEXT,
  rig TEXT,
  train TEXT,
  program TEXT,
  combined REAL,
  -- 1 where many frames are in this file: a master among raw frames
  integrated INTEGER NOT NULL,
  electrons_per_adu REAL,
  pixel_um REAL,
  site_lat_deg REAL,
  site_long_deg REAL,
  conflicts TEXT,
  dark_key INTEGER REFERENCES match_keys (id),
  flat_key INTEGER REFERENCES match_keys (id),
  logged_at TEXT NOT NULL,
  amended_at TEXT,
  -- the second lane: figures of the pixels and the hash of the whole file
  measured_at TEXT
) STRICT;
CREATE INDEX frames_by_night ON frames (night, kind, aside, exposure_s);
CREATE INDEX frames_by_dark_key ON frames (dark_key, kind, exposure_s, night);
CREATE INDEX frames_by_flat_key ON frames (flat_key, kind, night);
CREATE INDEX frames_to_measure ON frames (night) WHERE measured_at IS NULL AND state = 'ok';
CREATE INDEX frames_integrated ON frames (path) WHERE integrated = 1;

-- Every path that is known to hold a frame's bytes: its own, and those of duplicates. The stat is as it was when read.
CREATE TABLE files (
  path TEXT PRIMARY KEY,
  frame_id INTEGER NOT NULL REFERENCES frames (id),
  size INTEGER NOT NULL,
  modified_ms REAL NOT NULL,
  changed_ms REAL NOT NULL,
  inode REAL NOT NULL,
  seen_at TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX files_by_frame ON files (frame_id);

-- Every card of every header: the raw header bytes, as what differs from an earlier header of the same sort.
CREATE TABLE header_patterns (
  id INTEGER PRIMARY KEY,
  length INTEGER NOT NULL,
  deflated BLOB NOT NULL
) STRICT;
CREATE TABLE cards (
  frame_id INTEGER PRIMARY KEY REFERENCES frames (id),
  pattern_id INTEGER NOT NULL REFERENCES header_patterns (id),
  -- runs of differing bytes; empty where the header is its pattern
  delta BLOB NOT NULL
) STRICT;

CREATE TABLE frame_figures (
  frame_id INTEGER PRIMARY KEY REFERENCES frames (id),
  sha256 BLOB,
  -- JSON as in the contract; null where the pixels cannot be measured, then `problem` says why
  figures TEXT,
  problem TEXT
) STRICT;

CREATE TABLE masters (
  id INTEGER PRIMARY KEY,
  kind TEXT NOT NULL,
  path TEXT NOT NULL,
  size INTEGER NOT NULL,
  sha256 TEXT NOT NULL UNIQUE,
  state TEXT NOT NULL,
  -- why it is damaged, one sentence
  problem TEXT,
  camera TEXT,
  body TEXT,
  width INTEGER,
  height INTEGER,
  origin_x REAL,
  origin_y REAL,
  binning TEXT,
  readout ANY,
  gain ANY,
  "offset" ANY,
  set_temp_c REAL,
  sensor_temp_c REAL,
  exposure_s REAL,
  filter TEXT,
  telescope TEXT,
  focal_mm REAL,
  mech_angle_deg REAL,
  sky_angle_deg REAL,
  cfa TEXT,
  row_order TEXT,
  rig TEXT,
  train TEXT,
  frames INTEGER,
  made_at TEXT,
  proven_at TEXT,
  epoch TEXT,
  scale TEXT,
  subtracted TEXT,
  program TEXT,
  figures TEXT,
  added_at TEXT NOT NULL,
  retired_at TEXT,
  verified_at TEXT,
  -- where the user's own file stood, when it was copied
  copied_from TEXT,
  -- 1 where this program built it
  built INTEGER NOT NULL
) STRICT;
CREATE INDEX masters_by_path ON masters (path);

-- What a master was made from, by hash, so that it is known again wherever the files are now.
CREATE TABLE master_sources (
  master_id INTEGER NOT NULL REFERENCES masters (id),
  position INTEGER NOT NULL,
  path TEXT NOT NULL,
  sha256 BLOB,
  frame_id INTEGER REFERENCES frames (id),
  -- why it was left out of the integration; null where it went in
  rejected TEXT,
  PRIMARY KEY (master_id, position)
) STRICT, WITHOUT ROWID;
CREATE INDEX master_sources_by_frame ON master_sources (frame_id);

-- Check flats, check darks and proofs: JSON as the command line prints it.
CREATE TABLE checks (
  id INTEGER PRIMARY KEY,
  kind TEXT NOT NULL,
  master_id INTEGER REFERENCES masters (id),
  path TEXT NOT NULL,
  at TEXT NOT NULL,
  epoch TEXT,
  holds INTEGER,
  result TEXT NOT NULL
) STRICT;
CREATE INDEX checks_by_master ON checks (master_id, at);

-- Only what rows cannot say again: when a notice opened, and that somebody has seen it.
CREATE TABLE notices (
  night TEXT NOT NULL,
  id TEXT NOT NULL,
  severity TEXT NOT NULL,
  opened_at TEXT NOT NULL,
  acknowledged_at TEXT,
  closed_at TEXT,
  PRIMARY KEY (night, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX notices_by_id ON notices (id);

CREATE TABLE settings (
  name TEXT PRIMARY KEY,
  value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- A person's own spellings of keywords: this keyword means that setting. They come before the built-in ones.
CREATE TABLE header_spellings (
  keyword TEXT PRIMARY KEY,
  setting TEXT NOT NULL,
  unit TEXT
) STRICT, WITHOUT ROWID;

-- The answer to one mapping question per keyword of a writing program: a setting, or 'ignore'.
CREATE TABLE program_answers (
  program TEXT NOT NULL,
  keyword TEXT NOT NULL,
  means TEXT NOT NULL,
  unit TEXT,
  answered_at TEXT NOT NULL,
  PRIMARY KEY (program, keyword)
) STRICT, WITHOUT ROWID;

-- What the user said of a camera: the class of its sensor, and that it is gone (its darks can't come any more).
CREATE TABLE cameras (
  camera TEXT NOT NULL,
  body TEXT NOT NULL,
  class TEXT,
  gone_at TEXT,
  PRIMARY KEY (camera, body)
) STRICT, WITHOUT ROWID;
