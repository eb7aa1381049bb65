-- question: Which samples were tested on an instrument out of calibration, on which days?
SELECT instrument_id, sample_id, count(*) AS specimens, min(tested_on) AS first_day, max(tested_on) AS last_day,
       max(last_due_on) AS calibrated_until
FROM out_of_calibration
GROUP BY instrument_id, sample_id
ORDER BY instrument_id, sample_id
