-- purpose: Figures of samples and cores behind the judgement of each lot, and whether each of them counts in it.
-- grain: lot, plan and figure
-- cautions: What does not count (the other half of a split, a replaced core, an excluded figure) is here too; `lots.left_out` says why.
-- columns:
--   project_id: = lot_result.project_id
--   mix_id: = lot_result.mix_id
--   lot: = lot_result.lot
--   set_id: = lot_result.set_id
--   plan_id: = lot_result.plan_id
--   property: = property_value.property
--   point: = property_value.point
--   sample_id: = property_value.sample_id
--   specimen_no: = property_value.specimen_no
--   method: = property_value.method
--   value: = property_value.value
--   uncertainty: = property_value.uncertainty
--   flags: = property_value.flags
--   route: = property_value.route
--   formula_version: = property_value.formula_version
--   counts: Whether the statistic of the lot rests on it.
SELECT l.project_id, l.mix_id, l.lot, l.set_id, l.plan_id, v.property, v.point, v.sample_id, v.specimen_no, v.method, v.value,
       v.uncertainty, v.flags, v.route, v.formula_version,
       contains(' ' || coalesce(l.results, ''), ' ' || concat_ws('/', v.sample_id, v.specimen_no) || '=') AS counts
FROM lot_result AS l
JOIN samples AS s
    ON s.project_id = l.project_id AND s.mix_id = l.mix_id AND s.lot = l.lot AND s.material = l.material AND s.phase = 'production'
JOIN property_value AS v
    ON v.sample_id = s.sample_id AND v.property = l.property AND v.point IS NOT DISTINCT FROM l.point
    AND v.level = CASE l.material WHEN 'core' THEN 'specimen' ELSE 'sample' END
WHERE l.valid_to_run IS NULL AND v.valid_to_run IS NULL
