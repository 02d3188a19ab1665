INSERT INTO folders VALUES (1, '/capture', 1, '2026-11-20T18:00:00.000Z', 1);
INSERT INTO rigs VALUES (1, 'capture');
INSERT INTO rig_spans VALUES (1, 1, '0000-01-01T00:00:00.000Z', '/capture', NULL, NULL, NULL, 'Ha', NULL, 50.1, 8.2);
INSERT INTO train_changes VALUES (1, 'capture', 'filter', 'Ha', '2026-11-20T20:00:00.000Z', 'Filter cleaned', 0, '2026-11-20T20:01:00.000Z', NULL);
INSERT INTO match_keys VALUES (1, 'a'), (2, 'b');
INSERT INTO frames (id, fingerprint, path, size, state, kind, kind_from, night, aside, integrated, dark_key, flat_key, gain, logged_at)
  VALUES (7, x'01', '/capture/light.fits', 2880, 'ok', 'light', 'header', '2026-11-20', 0, 0, 1, 2, 'HI', '2026-11-20T21:00:00.000Z');
INSERT INTO files VALUES ('/capture/light.fits', 7, 2880, 1.5, 2.5, 3, '2026-11-20T21:00:00.000Z');
INSERT INTO frame_figures VALUES (7, x'02', '{}', NULL);
INSERT INTO masters (id, kind, path, size, sha256, state, added_at, built)
  VALUES (3, 'dark', '/masters/dark.fits', 2880, 'ab', 'retired', '2026-11-19T12:00:00.000Z', 0);
INSERT INTO master_sources VALUES (3, 0, '/capture/dark.fits', NULL, NULL, NULL);
INSERT INTO header_patterns VALUES (1, 2880, x'789cedceb10ac2301485e157b95ba6c04d860c850c298d123031982bd4b1889375b28b6fdfb56014a2ebfdc633fc9c12623e78000b15541bbfeb03e530d67bcab4f7921b43810fffb0bd17a2db7bba640ba2dc5fb09ba745b45736bd54e8748ede82a0db73b94e0fd0e68fe2e0c8cb635f2c088dda48a5a446d2aa43ec10dbc33e0dbf9f618c31c618636f56c3b07637');
INSERT INTO cards VALUES (7, 1, x'');
INSERT INTO checks (id, kind, master_id, path, at, holds, result) VALUES (1, 'dark', 3, '/capture/c.fits', '2026-11-20T22:00:00.000Z', 1, '{}');
INSERT INTO notices VALUES ('2026-11-20', 'no-dark/1', 'anyTime', '2026-11-20T22:00:00.000Z', NULL, NULL);
INSERT INTO settings VALUES ('site', '{"name":null,"latDeg":50.1,"longDeg":8.2}');
INSERT INTO header_spellings VALUES ('KALTE', 'setTempC', 'C');
INSERT INTO program_answers VALUES ('Capture 3', 'EGAIN', 'ignore', NULL, '2026-11-20T20:00:00.000Z');
INSERT INTO cameras VALUES ('Testcam 26', '', 'quiet', NULL);
INSERT INTO frame_hands VALUES (7, 'dark', 0, '2026-11-20T22:10:00.000Z', 'panel', 'focus');
INSERT INTO undo_steps VALUES (1, '2026-11-20T22:11:00.000Z', 'Master 3 was retired.', '{"do":"retire","master":3}', NULL);
UPDATE checks SET undone_at = '2026-11-20T22:12:00.000Z';
INSERT INTO frames (id, fingerprint, path, size, state, kind, kind_from, night, aside, integrated, binning, gain, logged_at)
  VALUES (8, x'03', '/capture/flat1.fits', 2880, 'ok', 'flat', 'header', '2026-11-20', 0, 0, '2x2', 100, '2026-11-20T21:00:00.000Z');
INSERT INTO cards VALUES (8, 1, x'');
UPDATE frames SET target = 'Field 7', exposure_s = 300 WHERE id = 7;
INSERT INTO frames (id, fingerprint, path, size, state, kind, kind_from, night, aside, integrated, target, exposure_s, logged_at)
  VALUES (9, x'04', '/capture/trial.fits', 2880, 'ok', 'light', 'header', '2026-11-20', 1, 0, 'Field 7', 5, '2026-11-20T21:00:00.000Z');
INSERT INTO sensor_measurements VALUES (1, 'Testcam 26', NULL, 100, 30, 'low noise', '2x2', '2026-11-20T23:00:00.000Z', '["/capture/flat1.fits"]');
INSERT INTO sensor_figures VALUES (1, 'ePerAdu', 0.25, 0.24, 0.26);
INSERT INTO dark_levels VALUES ('ab', 480.5, 30, 900, 12.5);
INSERT INTO settings VALUES ('describeAgain', '["/capture"]');
INSERT INTO master_cards VALUES (3, 1, x'', '{}');
INSERT INTO frame_figures VALUES (8, NULL, NULL, 'This file is not there any more: look whether it was moved or deleted.'), (9, NULL, NULL, 'The disk fails to read this file.');
UPDATE frames SET measured_at = '2026-11-20T23:30:00.000Z';
