-- purpose: What each revision of a mix gave in each phase: number, mean, scatter and extremes of every figure of its samples.
-- grain: mix, revision, laboratory, phase, property and point
-- cautions: Doubtful figures count, too (`doubtful`); the scatter of samples is not the repeatability of a test.
-- columns:
--   project_id: = sample.project_id
--   mix_id: = sample.mix_id
--   revision: = mix_design.revision
--   nmas_mm: = mix_design.nmas_mm
--   binder_grade: = mix_design.binder_grade
--   plant: = mix_design.plant
--   laboratory_id: = sample.laboratory_id
--   phase: = sample.phase
--   property: = property_value.property
--   point: = property_value.point
--   symbol: = property.symbol
--   unit: = property.unit
--   samples: Samples that count in it.
--   doubtful: Samples among them whose figure carries a flag.
--   mean: Mean of the samples.
--   deviation: Standard deviation (n - 1) of the samples.
--   least: Smallest figure.
--   greatest: Largest figure.
--   first_day: First day of sampling.
--   last_day: Last day of sampling.
SELECT project_id, mix_id, revision, nmas_mm, binder_grade, plant, laboratory_id, phase, property, point, symbol, unit,
       count(*) AS samples, count(flags) AS doubtful, avg(value) AS mean, stddev_samp(value) AS deviation,
       min(value) AS least, max(value) AS greatest, min(taken_on) AS first_day, max(taken_on) AS last_day
FROM sample_values
GROUP BY ALL
