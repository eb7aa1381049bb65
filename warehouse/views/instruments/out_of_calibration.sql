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
WITH tests AS (
    SELECT sample_id, specimen_no, record, method, instrument_id, tested_on
    FROM tested_on
    WHERE tested_on IS NOT NULL AND instrument_id IN (SELECT instrument_id FROM calibrations)
), days AS (  -- far fewer than tests
    SELECT d.instrument_id, d.tested_on, c.due_on
    FROM (SELECT DISTINCT instrument_id, tested_on FROM tests) AS d
    ASOF LEFT JOIN (SELECT * FROM calibrations WHERE outcome = 'accepted') AS c
        ON c.instrument_id = d.instrument_id AND c.calibrated_on <= d.tested_on
    WHERE c.due_on IS NULL OR c.due_on < d.tested_on
)
SELECT t.sample_id, t.specimen_no, t.record, t.method, t.instrument_id, t.tested_on, d.due_on AS last_due_on
FROM tests AS t
JOIN days AS d ON d.instrument_id = t.instrument_id AND d.tested_on = t.tested_on
