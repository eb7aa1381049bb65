-- purpose: Laboratories side by side, year by year: how far their figures lie from the mix designs, how they scatter, how well specimens repeat.
-- grain: laboratory, year, property and point
-- cautions: Laboratories test different mixes: compare deviations from the target, not the figures themselves. The repeatability is that of specimens of one sample.
-- columns:
--   laboratory_id: = sample.laboratory_id
--   year: Year of sampling.
--   property: = property_value.property
--   point: = property_value.point
--   symbol: = property.symbol
--   unit: = property.unit
--   samples: Samples with the figure.
--   doubtful: Samples among them whose figure carries a flag.
--   mean: Mean of the samples.
--   mean_off_target: Mean of figure less target, over samples whose design states one.
--   deviation_off_target: Standard deviation (n - 1) of figure less target.
--   repeatability: Standard deviation of the specimens of one sample, pooled over the samples.
--   specimens: Specimens behind it.
SELECT v.laboratory_id, year(v.taken_on) AS year, v.property, v.point, v.symbol, v.unit, count(*) AS samples,
       count(v.flags) AS doubtful, avg(v.value) AS mean, avg(v.value - t.target) AS mean_off_target,
       stddev_samp(v.value - t.target) AS deviation_off_target,
       sqrt(sum((v.n - 1) * v.spread * v.spread) / nullif(sum(v.n - 1) FILTER (v.spread IS NOT NULL), 0)) AS repeatability,
       sum(v.n)::BIGINT AS specimens
FROM sample_values AS v
LEFT JOIN design_targets AS t
    ON t.mix_id = v.mix_id AND t.revision = v.revision AND t.property = v.property AND t.point IS NOT DISTINCT FROM v.point
GROUP BY ALL
