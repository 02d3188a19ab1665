-- the word with which a person set a frame aside (focus, pointing, trial, culled); null: none was given
ALTER TABLE frame_hands ADD COLUMN aside_why TEXT;
