-- question: Does a compactor drift: how far do the specimens it made lie off the mean Gmb of their mix, quarter by quarter?
SELECT instrument_id, quarter, specimens, mixes, mean_off_mix, deviation_off_mix
FROM instrument_drift
WHERE record = 'compaction_run' AND property = 'gmb_n_design'
ORDER BY instrument_id, quarter
