-- What is known of a sensor at one setting: the newest measurement of each, with the frames that it came from.
CREATE TABLE sensor_measurements (
  id INTEGER PRIMARY KEY,
  camera TEXT NOT NULL,
  body TEXT,
  gain ANY,
  "offset" ANY,
  readout ANY,
  -- null where it was measured before binning was kept and its frames are not in the log any more
  binning TEXT,
  measured_at TEXT NOT NULL,
  -- JSON list of paths
  sources TEXT NOT NULL
) STRICT;

-- One figure each, under its name in the contract; low and high are its 95 % interval, or the two ends of a range without a value.
CREATE TABLE sensor_figures (
  measurement_id INTEGER NOT NULL REFERENCES sensor_measurements (id) ON DELETE CASCADE,
  name TEXT NOT NULL,
  value REAL,
  low REAL,
  high REAL,
  PRIMARY KEY (measurement_id, name)
) STRICT, WITHOUT ROWID;

-- What the pixels of a dark master tell, by the hash of its file. A cache: can be made again from the masters.
CREATE TABLE dark_levels (
  sha256 TEXT PRIMARY KEY,
  median_adu REAL NOT NULL,
  tail_adu REAL NOT NULL,
  hot_adu REAL NOT NULL,
  glow_peak_adu REAL NOT NULL
) STRICT, WITHOUT ROWID;

-- Until now both stood as JSON among the settings.
INSERT INTO sensor_measurements (id, camera, body, gain, "offset", readout, binning, measured_at, sources)
  SELECT one.key + 1, one.value ->> 'camera', one.value ->> 'body', one.value ->> 'gain', one.value ->> 'offset',
    one.value ->> 'readout', (SELECT binning FROM frames WHERE path = one.value ->> '$.sources[0]'),
    one.value ->> 'measuredAt', one.value -> 'sources'
  FROM settings, json_each(iif(json_valid(settings.value), settings.value, '[]')) AS one
  WHERE settings.name = 'sensorFigures' AND one.value ->> 'camera' IS NOT NULL AND one.value ->> 'measuredAt' IS NOT NULL
    AND one.value -> 'sources' IS NOT NULL;

INSERT INTO sensor_figures (measurement_id, name, value, low, high)
  SELECT one.key + 1, figure.key,
    iif(figure.type = 'object', figure.value ->> 'value', figure.value),
    coalesce(figure.value ->> '$.ci95[0]', figure.value ->> 'min'),
    coalesce(figure.value ->> '$.ci95[1]', figure.value ->> 'max')
  FROM settings, json_each(iif(json_valid(settings.value), settings.value, '[]')) AS one, json_each(one.value) AS figure
  WHERE settings.name = 'sensorFigures' AND one.key + 1 IN (SELECT id FROM sensor_measurements)
    AND figure.key IN ('ePerAdu', 'temporalDarkNoiseE', 'saturationE', 'linearityErrorPercent', 'darkCurrentEPerS')
    AND figure.type <> 'null';

INSERT INTO dark_levels (sha256, median_adu, tail_adu, hot_adu, glow_peak_adu)
  SELECT one.key, one.value ->> 'medianAdu', one.value ->> 'tailAdu', one.value ->> 'hotAdu', one.value ->> 'glowPeakAdu'
  FROM settings, json_each(iif(json_valid(settings.value), settings.value, '{}')) AS one
  WHERE settings.name = 'darkLevels' AND one.value ->> 'medianAdu' IS NOT NULL AND one.value ->> 'tailAdu' IS NOT NULL
    AND one.value ->> 'hotAdu' IS NOT NULL AND one.value ->> 'glowPeakAdu' IS NOT NULL;

DELETE FROM settings WHERE name IN ('sensorFigures', 'darkLevels');
