-- purpose: Figures that could be expected but were withheld, and why.
-- grain: figure withheld
-- cautions: A figure nobody asked for, because no export brought any input of it, is not listed.
-- columns:
--   sample_id: = property_value.sample_id
--   level: = property_value.level
--   method: = property_value.method
--   specimen_no: = property_value.specimen_no
--   property: = property_value.property
--   point: = property_value.point
--   symbol: = property.symbol
--   name: = property.name
--   withheld: = property_value.withheld
--   route: = property_value.route
--   flags: = property_value.flags
--   valid_from_run: = property_value.valid_from_run
SELECT v.sample_id, v.level, v.method, v.specimen_no, v.property, v.point, p.symbol, p.name, v.withheld, v.route, v.flags,
       v.valid_from_run
FROM property_value AS v
LEFT JOIN property AS p ON p.property = v.property
WHERE v.valid_to_run IS NULL AND v.value IS NULL
