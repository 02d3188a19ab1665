-- Frames whose files were not there were given up as if they could not be measured; they wait again until their files are back.
UPDATE frames SET measured_at = NULL WHERE state = 'ok' AND id IN
  (SELECT frame_id FROM frame_figures WHERE figures IS NULL AND problem LIKE 'This file is not there any more%');
DELETE FROM frame_figures WHERE figures IS NULL AND problem LIKE 'This file is not there any more%';
