-- purpose: Which instrument each specimen went over, and on which day.
-- grain: specimen, record and instrument
-- cautions: The day is that of the first row the export dates; null where it dates none.
-- columns:
--   sample_id: = sample.sample_id
--   specimen_no: = weighing.specimen_no
--   record: Record its rows belong to.
--   method: = weighing.method
--   instrument_id: = instrument.instrument_id
--   tested_on: Day of the test, laboratory time.
--   source_rows: Rows of exports.
SELECT sample_id, specimen_no, record, method, instrument_id, min(stated_at)::DATE AS tested_on, count(*) AS source_rows
FROM source_rows
WHERE sample_id IS NOT NULL AND specimen_no IS NOT NULL AND instrument_id IS NOT NULL
GROUP BY sample_id, specimen_no, record, method, instrument_id
