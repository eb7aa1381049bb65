-- Rows of a store of version 1, written by the program of that time; loaded by the tests of migrations.
INSERT INTO "compaction_run" VALUES ('h', NULL, 1, '2026-05-07 08:00:00', NULL, 'QX-0001', '1', NULL, 'gyrations', 1, NULL, NULL, NULL, NULL, NULL, NULL, 3, NULL, NULL, NULL);
INSERT INTO "mix_design" VALUES ('m', NULL, 1, NULL, NULL, 'M-12', 1, '2026-01-01', NULL, NULL, 12.5, NULL, NULL, NULL, 2.65, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, 2, NULL, NULL, NULL);
INSERT INTO "sample" VALUES ('r', NULL, 1, NULL, NULL, 'QX-0001', 'ridge road', 'M-12', 'mix', 'production', 'QX', NULL, NULL, '2026-05-06', NULL, NULL, NULL, 2, NULL, NULL, NULL);
INSERT INTO "weighing" VALUES ('a', NULL, 1, '2026-05-07 09:00:00', NULL, 'QX-0001', '1', 't166', 'dry', NULL, 100.0, NULL, NULL, NULL, 1, 2, 'b', NULL);
INSERT INTO "weighing" VALUES ('a', NULL, 2, '2026-05-07 09:00:00', NULL, 'QX-0001', '1', 't166', 'ssd', NULL, 50.0, NULL, NULL, NULL, 1, NULL, NULL, NULL);
INSERT INTO "weighing" VALUES ('b', NULL, 1, '2026-05-07 10:00:00', NULL, 'QX-0001', '1', 't166', 'dry', NULL, 101.0, NULL, NULL, NULL, 2, NULL, NULL, NULL);
INSERT INTO "property_value" VALUES ('QX-0001', 'sample', NULL, NULL, 'gmb', NULL, 2.4, NULL, 'gmb', 'f1', NULL, NULL, NULL, NULL, NULL, 4, 5);
INSERT INTO "property_value" VALUES ('QX-0001', 'sample', NULL, NULL, 'gmb', NULL, 2.41, NULL, 'gmb', 'f1', NULL, NULL, NULL, NULL, NULL, 5, NULL);
INSERT INTO "export" VALUES ('a', 'a.txt', 10, '2026-05-07 08:00:00', 1, 1, NULL, NULL, 'read', 1, 0);
INSERT INTO "export" VALUES ('b', 'b.txt', 10, '2026-05-07 08:00:00', 1, 2, NULL, NULL, 'read', 1, 0);
INSERT INTO "export" VALUES ('h', 'h.txt', 10, '2026-05-07 08:00:00', 1, 3, NULL, NULL, 'read', 1, 0);
INSERT INTO "export" VALUES ('m', 'm.txt', 10, '2026-05-07 08:00:00', 1, 2, NULL, NULL, 'read', 1, 0);
INSERT INTO "export" VALUES ('r', 'r.txt', 10, '2026-05-07 08:00:00', 1, 2, NULL, NULL, 'read', 1, 0);
INSERT INTO "series_part" VALUES ('compaction_height', 'compaction_height/3-55945709ab7a.parquet', 3, 2);
INSERT INTO "series_part" VALUES ('compaction_height', 'compaction_height/4-4d48d0fe3e20.parquet', 4, 2);
INSERT INTO "series_export" VALUES ('compaction_height', 'h', 'compaction_height/4-4d48d0fe3e20.parquet');
INSERT INTO "migration" VALUES (1, '0001_initial', '2026-11-25 18:55:20.767846');
