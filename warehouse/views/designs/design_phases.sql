-- purpose: Design against start-up against production, side by side for each figure of a mix.
-- grain: mix, revision, property and point
-- cautions: Means of all samples of the phase. The target is null for figures the design does not state.
-- columns:
--   project_id: = sample.project_id
--   mix_id: = sample.mix_id
--   revision: = mix_design.revision
--   nmas_mm: = mix_design.nmas_mm
--   binder_grade: = mix_design.binder_grade
--   plant: = mix_design.plant
--   property: = property_value.property
--   point: = property_value.point
--   symbol: = property.symbol
--   unit: = property.unit
--   target: What the mix design aims at; null for figures it does not state.
--   verification: Mean of the verification samples.
--   startup: Mean of the start-up samples.
--   production: Mean of the production samples.
--   production_samples: Number of production samples.
--   production_deviation: Standard deviation (n - 1) of the production samples.
--   production_less_target: Mean of production less the target.
--   production_less_verification: Mean of production less mean of verification.
--   production_less_startup: Mean of production less mean of start-up.
WITH phases AS (
    SELECT project_id, mix_id, revision, nmas_mm, binder_grade, plant, property, point, symbol, unit,
           avg(value) FILTER (phase = 'verification') AS verification, avg(value) FILTER (phase = 'startup') AS startup,
           avg(value) FILTER (phase = 'production') AS production,
           count(*) FILTER (phase = 'production') AS production_samples,
           stddev_samp(value) FILTER (phase = 'production') AS production_deviation
    FROM sample_values
    GROUP BY ALL
)
SELECT s.project_id, s.mix_id, s.revision, s.nmas_mm, s.binder_grade, s.plant, s.property, s.point, s.symbol, s.unit,
       t.target, s.verification, s.startup, s.production, s.production_samples, s.production_deviation,
       s.production - t.target AS production_less_target, s.production - s.verification AS production_less_verification,
       s.production - s.startup AS production_less_startup
FROM phases AS s
LEFT JOIN design_targets AS t
    ON t.mix_id = s.mix_id AND t.revision = s.revision AND t.property = s.property AND t.point IS NOT DISTINCT FROM s.point
