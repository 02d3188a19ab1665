-- A check that a person took back stays in the record and proves nothing any more.
ALTER TABLE checks ADD COLUMN undone_at TEXT;
