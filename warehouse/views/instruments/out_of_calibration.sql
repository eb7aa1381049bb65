-- purpose: Specimens tested on an instrument on a day that no accepted calibration covers.
-- grain: specimen, record and instrument
-- cautions: Only tests whose export states a day, and instruments of which at least one calibration is known.
-- columns:
--   sample_id: = tested_on.sample_id
--   specimen_no: = tested_on.specimen_no
--   record: = tested_on.record
--   method: = tested_on.method
--   instrument_id: = tested_on.instrument_id
--   tested_on: = tested_on.tested_on
--   last_due_on: Last day the last accepted calibration before it covered; null if there was none.
WITH covered AS (
    SELECT t.sample_id, t.specimen_no, t.record, t.method, t.instrument_id, t.tested_on, c.due_on
    FROM tested_on AS t
    ASOF LEFT JOIN (SELECT * FROM calibrations WHERE outcome = 'accepted') AS c
        ON c.instrument_id = t.instrument_id AND c.calibrated_on <= t.tested_on
    WHERE t.tested_on IS NOT NULL AND t.instrument_id IN (SELECT instrument_id FROM calibrations)
)
SELECT sample_id, specimen_no, record, method, instrument_id, tested_on, due_on AS last_due_on
FROM covered
WHERE due_on IS NULL OR due_on < tested_on
