-- purpose: Figures with a validity check that did not hold, one row per check, and what each means.
-- grain: figure and flag
-- cautions: The figure stands; the flag says why it may be in doubt. Limits marked `from memory` were not confirmed.
-- columns:
--   sample_id: = property_value.sample_id
--   level: = property_value.level
--   method: = property_value.method
--   specimen_no: = property_value.specimen_no
--   property: = property_value.property
--   point: = property_value.point
--   value: = property_values.value
--   flag: = flag.code
--   sentence: = flag.sentence
--   limit_text: = flag.limit_text
--   source: = flag.source
--   valid_from_run: = property_value.valid_from_run
SELECT v.sample_id, v.level, v.method, v.specimen_no, v.property, v.point, v.value, v.flag, f.sentence, f.limit_text,
       f.source, v.valid_from_run
FROM (
    SELECT *, unnest(string_split(flags, ' ')) AS flag
    FROM property_value
    WHERE valid_to_run IS NULL AND value IS NOT NULL AND flags IS NOT NULL
) AS v
LEFT JOIN flag AS f ON f.code = v.flag
