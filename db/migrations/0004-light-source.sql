-- What lit a flat: panel, sky, screen, other; null until known. Of a frame as its header or a person says, of a master as all its frames say.
ALTER TABLE frames ADD COLUMN light_source TEXT;
ALTER TABLE frame_hands ADD COLUMN light_source TEXT;
ALTER TABLE masters ADD COLUMN light_source TEXT;
