-- purpose: Current comparisons: duplicates, split samples, laboratories, instruments, phases.
-- grain: comparison
-- cautions: Split samples carry the scatter of testing only, independent ones that of material and sampling too. A fail of a t-test is a difference beyond chance, not a fault of either.
-- columns:
--   kind: = comparison.kind
--   project_id: = comparison.project_id
--   mix_id: = comparison.mix_id
--   property: = comparison.property
--   point: = comparison.point
--   first: = comparison.first
--   second: = comparison.second
--   period: = comparison.period
--   n_1: = comparison.n_1
--   n_2: = comparison.n_2
--   mean_1: = comparison.mean_1
--   mean_2: = comparison.mean_2
--   s_1: = comparison.s_1
--   s_2: = comparison.s_2
--   difference: = comparison.difference
--   lower: = comparison.lower
--   upper: = comparison.upper
--   f: = comparison.f
--   f_p: = comparison.f_p
--   t: = comparison.t
--   t_df: = comparison.t_df
--   t_p: = comparison.t_p
--   significance: = comparison.significance
--   verdict: = comparison.verdict
--   reason: = comparison.reason
--   basis: = comparison.basis
--   valid_from_run: = comparison.valid_from_run
SELECT t.kind, t.project_id, t.mix_id, t.property, t.point, t.first, t.second, t.period, t.n_1, t.n_2, t.mean_1,
       t.mean_2, t.s_1, t.s_2, t.difference, t.lower, t.upper, t.f, t.f_p, t.t, t.t_df, t.t_p, t.significance,
       t.verdict, t.reason, t.basis, t.valid_from_run
FROM comparison AS t
WHERE t.valid_to_run IS NULL
