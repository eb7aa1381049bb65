-- purpose: Runs that changed the warehouse, and what each changed.
-- grain: run
-- cautions: Times are UTC. A rebuilt warehouse has one run: what was reported when begins anew with it.
-- columns:
--   run_id: = run.run_id
--   started_at: = run.started_at
--   finished_at: = run.finished_at
--   version: = run.version
--   exports_new: = run.exports_new
--   rows_accepted: = run.rows_accepted
--   rows_refused: = run.rows_refused
--   figures_stored: Figures of samples and specimens that hold from this run on, those withheld included.
--   figures_replaced: Figures it replaced.
SELECT r.run_id, r.started_at, r.finished_at, r.version, r.exports_new, r.rows_accepted, r.rows_refused,
       coalesce(opened.figures, 0) AS figures_stored, coalesce(closed.figures, 0) AS figures_replaced
FROM run AS r
LEFT JOIN (SELECT valid_from_run AS run_id, count(*) AS figures FROM property_value GROUP BY 1) AS opened
    ON opened.run_id = r.run_id
LEFT JOIN (
    SELECT valid_to_run AS run_id, count(*) AS figures FROM property_value WHERE valid_to_run IS NOT NULL GROUP BY 1
) AS closed ON closed.run_id = r.run_id
