-- purpose: Production results on the control charts of their mix, with control limits and published limits.
-- grain: result of a sample
-- cautions: Control limits rest on all results of the series, later ones included.
-- columns:
--   project_id: = chart_point.project_id
--   mix_id: = chart_point.mix_id
--   property: = chart_point.property
--   point: = chart_point.point
--   sample_id: = chart_point.sample_id
--   taken_on: = chart_point.taken_on
--   place_no: = chart_point.place_no
--   value: = chart_point.value
--   target: = chart_point.target
--   centre: = chart_point.centre
--   sigma: = chart_point.sigma
--   moving_range: = chart_point.moving_range
--   lower_control: = chart_point.lower_control
--   upper_control: = chart_point.upper_control
--   range_control: = chart_point.range_control
--   moving_average: = chart_point.moving_average
--   average_lower: = chart_point.average_lower
--   average_upper: = chart_point.average_upper
--   ewma: = chart_point.ewma
--   ewma_lower: = chart_point.ewma_lower
--   ewma_upper: = chart_point.ewma_upper
--   signals: = chart_point.signals
--   published: = chart_point.published
--   first_signal: = chart_point.first_signal
--   valid_from_run: = chart_point.valid_from_run
SELECT t.project_id, t.mix_id, t.property, t.point, t.sample_id, t.taken_on, t.place_no, t.value, t.target, t.centre,
       t.sigma, t.moving_range, t.lower_control, t.upper_control, t.range_control, t.moving_average, t.average_lower,
       t.average_upper, t.ewma, t.ewma_lower, t.ewma_upper, t.signals, t.published, t.first_signal, t.valid_from_run
FROM chart_point AS t
WHERE t.valid_to_run IS NULL
