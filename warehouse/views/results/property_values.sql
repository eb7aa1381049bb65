-- purpose: Current figures of specimens and samples, one below the other, with name, symbol and unit.
-- grain: figure
-- cautions: Unrounded; `decimals` says how it is reported. A flag means that a validity check did not hold. Figures that were withheld are in `missing_values`.
-- columns:
--   sample_id: = property_value.sample_id
--   level: = property_value.level
--   method: = property_value.method
--   specimen_no: = property_value.specimen_no
--   property: = property_value.property
--   point: = property_value.point
--   value: The figure, unrounded, in the unit beside it.
--   unit: = property.unit
--   symbol: = property.symbol
--   name: = property.name
--   decimals: = property.decimals
--   standard: = property.standard
--   route: = property_value.route
--   flags: = property_value.flags
--   n: = property_value.n
--   spread: = property_value.spread
--   uncertainty: = property_value.uncertainty
--   parameters: = property_value.parameters
--   valid_from_run: = property_value.valid_from_run
SELECT v.sample_id, v.level, v.method, v.specimen_no, v.property, v.point, v.value, p.unit, p.symbol, p.name, p.decimals,
       p.standard, v.route, v.flags, v.n, v.spread, v.uncertainty, v.parameters, v.valid_from_run
FROM property_value AS v
LEFT JOIN property AS p ON p.property = v.property
WHERE v.valid_to_run IS NULL AND v.value IS NOT NULL
