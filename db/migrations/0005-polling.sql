-- 1: looked through every few seconds, because the user says so; 0: listened to; null: as its disk is
ALTER TABLE folders ADD COLUMN polling INTEGER;
