-- purpose: Percent passing of each sample against the target of its mix design, sieve by sieve.
-- grain: sample and sieve
-- cautions: The target of the revision that held on the day of sampling; null where the design states none for the sieve.
-- columns:
--   sample_id: = sample.sample_id
--   project_id: = sample.project_id
--   mix_id: = sample.mix_id
--   revision: = mix_design.revision
--   plant: = mix_design.plant
--   phase: = sample.phase
--   laboratory_id: = sample.laboratory_id
--   lot: = sample.lot
--   taken_on: = sample.taken_on
--   sieve_mm: = mix_gradation.sieve_mm
--   passing_pct: Percent passing of the sample. Unit: %.
--   target_pct: Percent passing the design aims at. Unit: %.
--   difference_pct: Percent passing less target. Unit: %.
SELECT v.sample_id, v.project_id, v.mix_id, v.revision, v.plant, v.phase, v.laboratory_id, v.lot, v.taken_on,
       v.point AS sieve_mm, v.value AS passing_pct, g.passing_pct AS target_pct, v.value - g.passing_pct AS difference_pct
FROM sample_values AS v
LEFT JOIN mix_gradation AS g
    ON g.mix_id = v.mix_id AND g.revision = v.revision AND g.sieve_mm = v.point AND g.valid_to_run IS NULL
WHERE v.property = 'passing'
