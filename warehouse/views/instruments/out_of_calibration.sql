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
SELECT t.sample_id, t.specimen_no, t.record, t.method, t.instrument_id, t.tested_on,
       max(c.due_on) FILTER (c.outcome = 'accepted' AND c.calibrated_on <= t.tested_on) AS last_due_on
FROM tested_on AS t
JOIN calibrations AS c ON c.instrument_id = t.instrument_id
WHERE t.tested_on IS NOT NULL
GROUP BY t.sample_id, t.specimen_no, t.record, t.method, t.instrument_id, t.tested_on
HAVING NOT coalesce(
    bool_or(c.outcome = 'accepted' AND t.tested_on BETWEEN c.calibrated_on AND c.due_on), false
)
