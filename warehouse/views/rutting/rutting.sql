-- purpose: Rutting and stripping under the wheel: depths, slopes, inflection and passes of each wheel.
-- grain: wheel of a test
-- cautions: The procedures differ between agencies; each figure says its own. A figure that is withheld is null: `missing_values` says why. Passes are counted as the machine counts them.
-- columns:
--   sample_id: = sample.sample_id
--   project_id: = sample.project_id
--   mix_id: = sample.mix_id
--   revision: = mix_design.revision
--   binder_grade: = mix_design.binder_grade
--   plant: = mix_design.plant
--   phase: = sample.phase
--   laboratory_id: = sample.laboratory_id
--   taken_on: = sample.taken_on
--   specimen_no: = wheel_run.specimen_no
--   wheel: = wheel_run.wheel
--   instrument_id: = wheel_run.instrument_id
--   passes: = wheel_run.passes
--   stop_reason: = wheel_run.stop_reason
--   bath_mean_c: = wheel_run.bath_mean_c
--   specimen_air_voids_pct: = wheel_run.specimen_air_voids_pct
--   rut_depth_5000_mm: Rut depth at 5,000 passes. Unit: mm.
--   rut_depth_10000_mm: Rut depth at 10,000 passes. Unit: mm.
--   rut_depth_15000_mm: Rut depth at 15,000 passes. Unit: mm.
--   rut_depth_20000_mm: Rut depth at 20,000 passes. Unit: mm.
--   passes_to_limit_depth: Passes to the depth limit of the settings.
--   creep_slope_mm_per_pass: Creep slope, by two fitted lines. Unit: mm/pass.
--   stripping_slope_mm_per_pass: Stripping slope, by two fitted lines. Unit: mm/pass.
--   sip_lines: Stripping inflection point in passes, by two fitted lines.
--   sip_polynomial: Stripping inflection point in passes, by the polynomial.
--   stripping_number_polynomial: Stripping number in passes, by the polynomial.
--   flags: Validity flags of its figures, each once, separated by spaces; null if none.
WITH figures AS (
    SELECT sample_id, specimen_no,
           max(value) FILTER (property = 'rut_depth' AND point = 5000) AS rut_depth_5000_mm,
           max(value) FILTER (property = 'rut_depth' AND point = 10000) AS rut_depth_10000_mm,
           max(value) FILTER (property = 'rut_depth' AND point = 15000) AS rut_depth_15000_mm,
           max(value) FILTER (property = 'rut_depth' AND point = 20000) AS rut_depth_20000_mm,
           max(value) FILTER (property = 'passes_to_limit_depth') AS passes_to_limit_depth,
           max(value) FILTER (property = 'creep_slope_lines') AS creep_slope_mm_per_pass,
           max(value) FILTER (property = 'stripping_slope_lines') AS stripping_slope_mm_per_pass,
           max(value) FILTER (property = 'sip_lines') AS sip_lines,
           max(value) FILTER (property = 'sip_polynomial') AS sip_polynomial,
           max(value) FILTER (property = 'stripping_number_polynomial') AS stripping_number_polynomial,
           array_to_string(list_sort(list_distinct(flatten(list(string_split(flags, ' ')) FILTER (flags IS NOT NULL)))), ' ')
               AS flags
    FROM property_value
    WHERE method = 't324' AND level = 'specimen' AND valid_to_run IS NULL
    GROUP BY sample_id, specimen_no
)
SELECT s.sample_id, s.project_id, s.mix_id, s.revision, s.binder_grade, s.plant, s.phase, s.laboratory_id, s.taken_on,
       w.specimen_no, w.wheel, w.instrument_id, w.passes, w.stop_reason, w.bath_mean_c, w.specimen_air_voids_pct,
       f.rut_depth_5000_mm, f.rut_depth_10000_mm, f.rut_depth_15000_mm, f.rut_depth_20000_mm, f.passes_to_limit_depth,
       f.creep_slope_mm_per_pass, f.stripping_slope_mm_per_pass, f.sip_lines, f.sip_polynomial,
       f.stripping_number_polynomial, nullif(f.flags, '') AS flags
FROM wheel_run AS w
JOIN samples AS s ON s.sample_id = w.sample_id
LEFT JOIN figures AS f ON f.sample_id = w.sample_id AND f.specimen_no = w.specimen_no || ' ' || w.wheel
WHERE w.valid_to_run IS NULL
