-- purpose: Current judgement of each lot by each acceptance plan: statistics, percentage within limits, pay.
-- grain: lot and plan
-- cautions: Pay follows the equation named beside it; the engineer decides. A flagged outlier counts until it is replaced.
-- columns:
--   project_id: = lot_result.project_id
--   mix_id: = lot_result.mix_id
--   lot: = lot_result.lot
--   set_id: = lot_result.set_id
--   plan_id: = lot_result.plan_id
--   property: = lot_result.property
--   point: = lot_result.point
--   material: = lot_result.material
--   results: = lot_result.results
--   left_out: = lot_result.left_out
--   n: = lot_result.n
--   mean: = lot_result.mean
--   s: = lot_result.s
--   target: = lot_result.target
--   lower: = lot_result.lower
--   upper: = lot_result.upper
--   q_lower: = lot_result.q_lower
--   q_upper: = lot_result.q_upper
--   look_up: = lot_result.look_up
--   within_lower_pct: = lot_result.within_lower_pct
--   within_upper_pct: = lot_result.within_upper_pct
--   within_pct: = lot_result.within_pct
--   beyond_pct: = lot_result.beyond_pct
--   deviation: = lot_result.deviation
--   equation: = lot_result.equation
--   measure: = lot_result.measure
--   pay_pct: = lot_result.pay_pct
--   pay_rule: = lot_result.pay_rule
--   pay_source: = lot_result.pay_source
--   consequence: = lot_result.consequence
--   retest: = lot_result.retest
--   removal: = lot_result.removal
--   weight: = lot_result.weight
--   composite_pct: = lot_result.composite_pct
--   outlier_test: = lot_result.outlier_test
--   outlier_suspect: = lot_result.outlier_suspect
--   outlier_statistic: = lot_result.outlier_statistic
--   outlier_critical: = lot_result.outlier_critical
--   outlier: = lot_result.outlier
--   reason: = lot_result.reason
--   source: = lot_result.source
--   mark: = lot_result.mark
--   valid_from_run: = lot_result.valid_from_run
SELECT t.project_id, t.mix_id, t.lot, t.set_id, t.plan_id, t.property, t.point, t.material, t.results, t.left_out,
       t.n, t.mean, t.s, t.target, t.lower, t.upper, t.q_lower, t.q_upper, t.look_up, t.within_lower_pct,
       t.within_upper_pct, t.within_pct, t.beyond_pct, t.deviation, t.equation, t.measure, t.pay_pct, t.pay_rule,
       t.pay_source, t.consequence, t.retest, t.removal, t.weight, t.composite_pct, t.outlier_test,
       t.outlier_suspect, t.outlier_statistic, t.outlier_critical, t.outlier, t.reason, t.source, t.mark,
       t.valid_from_run
FROM lot_result AS t
WHERE t.valid_to_run IS NULL
