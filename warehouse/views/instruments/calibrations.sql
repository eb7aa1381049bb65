-- purpose: Calibrations of each instrument, from which day to which each of them covers it, and for how long nothing did before.
-- grain: calibration
-- cautions: A rejected calibration covers nothing, and puts what was tested since the last good one in doubt.
-- columns:
--   instrument_id: = instrument.instrument_id
--   kind: = instrument.kind
--   laboratory_id: = instrument.laboratory_id
--   calibrated_on: = calibration.calibrated_on
--   due_on: = calibration.due_on
--   outcome: = calibration.outcome
--   uncovered_days: Days between the end of all earlier accepted calibrations and this one; 0 if none.
--   export_hash: = calibration.export_hash
SELECT c.instrument_id, i.kind, i.laboratory_id, c.calibrated_on, c.due_on, c.outcome,
       coalesce(greatest(c.calibrated_on - max(c.due_on) FILTER (c.outcome = 'accepted') OVER earlier - 1, 0), 0)
           AS uncovered_days,
       c.export_hash
FROM calibration AS c
LEFT JOIN instrument AS i ON i.instrument_id = c.instrument_id AND i.valid_to_run IS NULL
WHERE c.valid_to_run IS NULL
WINDOW earlier AS (
    PARTITION BY c.instrument_id ORDER BY c.calibrated_on ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
)
