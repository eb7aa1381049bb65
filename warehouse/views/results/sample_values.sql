-- purpose: Current figures of samples, one below the other, with what the register says of the sample.
-- grain: figure of a sample
-- cautions: Unrounded. A flag means that a validity check did not hold; figures that were withheld are in `missing_values`.
-- columns:
--   sample_id: = sample.sample_id
--   project_id: = sample.project_id
--   mix_id: = sample.mix_id
--   revision: = mix_design.revision
--   nmas_mm: = mix_design.nmas_mm
--   binder_grade: = mix_design.binder_grade
--   plant: = mix_design.plant
--   material: = sample.material
--   phase: = sample.phase
--   laboratory_id: = sample.laboratory_id
--   lot: = sample.lot
--   sublot: = sample.sublot
--   taken_on: = sample.taken_on
--   property: = property_value.property
--   point: = property_value.point
--   value: = property_values.value
--   unit: = property.unit
--   symbol: = property.symbol
--   flags: = property_value.flags
--   n: = property_value.n
--   spread: = property_value.spread
SELECT s.sample_id, s.project_id, s.mix_id, s.revision, s.nmas_mm, s.binder_grade, s.plant, s.material, s.phase,
       s.laboratory_id, s.lot, s.sublot, s.taken_on, v.property, v.point, v.value, p.unit, p.symbol, v.flags, v.n, v.spread
FROM property_value AS v
JOIN samples AS s ON s.sample_id = v.sample_id
LEFT JOIN property AS p ON p.property = v.property
WHERE v.valid_to_run IS NULL AND v.level = 'sample' AND v.value IS NOT NULL
