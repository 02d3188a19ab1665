-- Nights are found by what was photographed: the hours of a target in each of them, without a look at the rows of a million frames
-- (which is why kind and aside, the same in every entry, stand in it).
CREATE INDEX frames_by_target ON frames (target, night, exposure_s, kind, aside) WHERE kind = 'light' AND aside = 0 AND target IS NOT NULL;
