INSERT INTO daily VALUES
 ('f1', DATE '2025-03-01', 24, 'log', '1', 96, 90, 812.5, 0.002, 100, 231.5, 25, NULL, NULL, 11.5, 1, 0, 1, NULL, NULL, NULL, NULL, NULL, NULL, 3, 0, 0, 0, 0, 0, 0, 0, 3, 0),
 ('f1', DATE '2025-03-02', 24, 'log', '1', 96, 0, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 0, 0, 0, 0, NULL, NULL, NULL, NULL, NULL, NULL, 96, 0, 0, 0, 0, 0, 0, 0, 0, 0);
COPY daily TO '{dir}/daily.parquet' (FORMAT parquet);
INSERT INTO levels VALUES
 ('f1', 1, DATE '2025-03-01', 112, 111, 113, 'lamp-on time', 812.5, 812.5, 0, 0, 0, 1.00, NULL, 90, 231.5, 25, 100, 'lamp 1', '', 'log'),
 ('f1', 1, DATE '2025-03-02', 124, 122, 126, 'lamp-on time', 804.4, 800, 0.005, 0, 0, 0.99, 0.985, 90, 231.5, 25, 100, 'lamp 1', 'gain-ahead', 'log'),
 ('f1', 1, DATE '2025-03-03', 136, 133, 139, 'meter', 800, 800, 0, 0, 0, 0.98, 0.98, 90, 231.5, 25, 100, 'lamp 1', '', 'log');
COPY levels TO '{dir}/levels.parquet' (FORMAT parquet);
COPY (SELECT * FROM (VALUES
 ('log', '1', TIMESTAMPTZ '2025-03-01 00:00:00+00', 812.5::DECIMAL(9, 1), false),
 ('log', '1', TIMESTAMPTZ '2025-03-01 00:15:00+00', 812.0::DECIMAL(9, 1), true)) AS r(sensor, channel, time, value, conflict)) TO '{dir}/readings1.parquet' (FORMAT parquet);
COPY (SELECT * FROM (VALUES
 ('log', '1', TIMESTAMPTZ '2025-03-01 00:15:00+00', 812.25::DECIMAL(9, 2), true),
 ('log', 'v', TIMESTAMPTZ '2025-03-01 00:15:00+00', 231.45::DECIMAL(9, 2), false),
 ('p', 'a', TIMESTAMPTZ '2025-03-01 00:00:00+00', 23.1::DECIMAL(9, 2), false),
 ('p', 'a', TIMESTAMPTZ '2025-03-01 00:30:00+00', 23.5::DECIMAL(9, 2), false),
 ('p', 'a', TIMESTAMPTZ '2025-03-01 01:00:00+00', 19.0::DECIMAL(9, 2), false),
 ('p', 'a', TIMESTAMPTZ '2025-03-01 01:30:00+00', 23.0::DECIMAL(9, 2), false),
 ('p', 'b', TIMESTAMPTZ '2025-03-01 01:30:00+00', 22.0::DECIMAL(9, 2), false),
 ('p', 'c', TIMESTAMPTZ '2025-03-01 01:00:00+00', 24.0::DECIMAL(9, 2), false)) AS r(sensor, channel, time, value, conflict)) TO '{dir}/readings2.parquet' (FORMAT parquet);
