-- purpose: Plants side by side, year by year: how far their production lies from the mix designs, and how it scatters.
-- grain: plant, year, property and point
-- cautions: Production only. The scatter is that of material, sampling and testing together, over all mixes and laboratories.
-- columns:
--   plant: = mix_design.plant
--   year: Year of sampling.
--   property: = property_value.property
--   point: = property_value.point
--   symbol: = property.symbol
--   unit: = property.unit
--   samples: Samples of production with the figure.
--   doubtful: Samples among them whose figure carries a flag.
--   mixes: Mixes they are of.
--   mean_off_target: Mean of figure less target, over samples whose design states one.
--   deviation_off_target: Standard deviation (n - 1) of figure less target.
--   judged: Samples held against a limit, whatever came of it.
--   failed: Samples outside a limit.
WITH verdicts AS (
    SELECT sample_id, property, point, bool_or(verdict = 'fail') AS failed
    FROM judgement
    WHERE valid_to_run IS NULL AND verdict <> 'not_judged'
    GROUP BY sample_id, property, point
)
SELECT v.plant, year(v.taken_on) AS year, v.property, v.point, v.symbol, v.unit, count(*) AS samples,
       count(v.flags) AS doubtful, count(DISTINCT v.mix_id) AS mixes, avg(v.value - t.target) AS mean_off_target,
       stddev_samp(v.value - t.target) AS deviation_off_target, count(j.failed) AS judged,
       count(*) FILTER (j.failed) AS failed
FROM sample_values AS v
LEFT JOIN design_targets AS t
    ON t.mix_id = v.mix_id AND t.revision = v.revision AND t.property = v.property AND t.point IS NOT DISTINCT FROM v.point
LEFT JOIN verdicts AS j
    ON j.sample_id = v.sample_id AND j.property = v.property AND j.point IS NOT DISTINCT FROM v.point
WHERE v.phase = 'production' AND v.plant IS NOT NULL
GROUP BY ALL
