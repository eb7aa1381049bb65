-- purpose: Whether an instrument drifts: how far, quarter by quarter, the specimens that went over it lie from the mean of their mix.
-- grain: instrument, record, quarter, property and point
-- cautions: A mix that changes looks like an instrument that drifts where one instrument alone tested it: look at several mixes and at the calibrations.
-- columns:
--   instrument_id: = tested_on.instrument_id
--   record: = tested_on.record
--   quarter: First day of the quarter.
--   property: = property_value.property
--   point: = property_value.point
--   specimens: Specimens with the figure.
--   mixes: Mixes they are of.
--   mean_off_mix: Mean of figure less the mean of its mix, revision and phase.
--   deviation_off_mix: Standard deviation (n - 1) of figure less that mean.
WITH figures AS (
    SELECT v.sample_id, v.specimen_no, v.property, v.point, s.mix_id, s.taken_on, v.method,
           v.value - avg(v.value) OVER (PARTITION BY s.mix_id, s.revision, s.phase, v.property, v.point) AS off_mix
    FROM property_value AS v
    JOIN samples AS s ON s.sample_id = v.sample_id
    WHERE v.valid_to_run IS NULL AND v.level = 'specimen' AND v.value IS NOT NULL
)
SELECT t.instrument_id, t.record, date_trunc('quarter', coalesce(t.tested_on, f.taken_on))::DATE AS quarter, f.property,
       f.point, count(*) AS specimens, count(DISTINCT f.mix_id) AS mixes, avg(f.off_mix) AS mean_off_mix,
       stddev_samp(f.off_mix) AS deviation_off_mix
FROM figures AS f
JOIN tested_on AS t
    ON t.sample_id = f.sample_id
    AND t.specimen_no = CASE WHEN f.method = 't324' THEN split_part(f.specimen_no, ' ', 1) ELSE f.specimen_no END
    AND (t.method IS NULL OR t.method = f.method OR (t.method = 't312' AND f.method = 't166'))
GROUP BY ALL
