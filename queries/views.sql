-- Every table of the archive as a view over just the parts that the manifest names. What the columns mean stands in schema/.
--
-- In a shell of the engine, without wane, from the site's folder:
--
--   CREATE TEMP TABLE part AS SELECT p."table" AS name, 'archive/' || p.path AS path
--     FROM (SELECT unnest(parts) AS p FROM read_json('archive/manifest.json'));
--   .read views.sql
--
-- A table that has no part yet makes no view there; wane makes it an empty one. Moments are stored as UTC; they are given
-- without their zone, because this engine's functions on dates want none. The whole file is own to this engine: elsewhere the
-- hive-style folders are declared as tables. The folders' names are no columns: day=all is not the column day.

-- The files of each table. They are read from this variable, so that no path is ever part of a statement.
SET VARIABLE files = (
    SELECT map(list(name), list(paths)) FROM (SELECT name, list(path ORDER BY path) AS paths FROM part GROUP BY name)
);

-- Parts hold different numbers of decimals: read by name they meet in the widest.
CREATE TEMP VIEW readings AS
SELECT sensor, channel, CAST(time AS TIMESTAMP) AS time, CAST(value AS DOUBLE) AS value, conflict
FROM read_parquet(getvariable('files')['readings'][1], union_by_name = true, hive_partitioning = false);

CREATE TEMP VIEW files AS
SELECT * REPLACE (CAST(modified AS TIMESTAMP) AS modified, CAST(taken_in AS TIMESTAMP) AS taken_in)
FROM read_parquet(getvariable('files')['files'][1], hive_partitioning = false);

CREATE TEMP VIEW coverage AS
SELECT * REPLACE (CAST(first AS TIMESTAMP) AS first, CAST(last AS TIMESTAMP) AS last)
FROM read_parquet(getvariable('files')['coverage'][1], hive_partitioning = false);

CREATE TEMP VIEW quarantine AS
SELECT * REPLACE (CAST(taken_in AS TIMESTAMP) AS taken_in)
FROM read_parquet(getvariable('files')['quarantine'][1], hive_partitioning = false);

CREATE TEMP VIEW daily AS
SELECT * REPLACE (CAST(meter_first_at AS TIMESTAMP) AS meter_first_at, CAST(meter_last_at AS TIMESTAMP) AS meter_last_at)
FROM read_parquet(getvariable('files')['daily'][1], hive_partitioning = false);

CREATE TEMP VIEW levels AS
SELECT * FROM read_parquet(getvariable('files')['levels'][1], hive_partitioning = false);

CREATE TEMP VIEW hours AS
SELECT * FROM read_parquet(getvariable('files')['hours'][1], hive_partitioning = false);

CREATE TEMP VIEW lives AS
SELECT * FROM read_parquet(getvariable('files')['lives'][1], hive_partitioning = false);

CREATE TEMP VIEW gains AS
SELECT * FROM read_parquet(getvariable('files')['gains'][1], hive_partitioning = false);

CREATE TEMP VIEW sensor_periods AS
SELECT * FROM read_parquet(getvariable('files')['sensor_periods'][1], hive_partitioning = false);

CREATE TEMP VIEW placements AS
SELECT * FROM read_parquet(getvariable('files')['placements'][1], hive_partitioning = false);

CREATE TEMP VIEW chains AS
SELECT * FROM read_parquet(getvariable('files')['chains'][1], hive_partitioning = false);

CREATE TEMP VIEW coefficients AS
SELECT * FROM read_parquet(getvariable('files')['coefficients'][1], hive_partitioning = false);

CREATE TEMP VIEW burning AS
SELECT * FROM read_parquet(getvariable('files')['burning'][1], hive_partitioning = false);

CREATE TEMP VIEW baselines AS
SELECT * FROM read_parquet(getvariable('files')['baselines'][1], hive_partitioning = false);

CREATE TEMP VIEW weeks AS
SELECT * FROM read_parquet(getvariable('files')['weeks'][1], hive_partitioning = false);

CREATE TEMP VIEW due AS
SELECT * FROM read_parquet(getvariable('files')['due'][1], hive_partitioning = false);
