-- purpose: How long a sample takes: from sampling to its first test, its first export and its first figure.
-- grain: sample of the register
-- cautions: Tests by the clocks of the instruments, arrivals and figures by that of this machine (UTC). Exports taken in afterwards make a sample look late.
-- columns:
--   sample_id: = sample.sample_id
--   project_id: = sample.project_id
--   laboratory_id: = sample.laboratory_id
--   phase: = sample.phase
--   taken_on: = sample.taken_on
--   first_tested_at: First reading any export dates, laboratory time.
--   last_tested_at: Last reading any export dates, laboratory time.
--   first_received_at: When the first export with its readings arrived, UTC.
--   first_figure_at: When its first figure was stored, UTC.
--   days_to_test: Days from sampling to the first reading.
--   days_in_test: Days from the first reading to the last.
--   days_to_figure: Days from sampling to the first figure.
WITH read AS (
    SELECT r.sample_id, min(r.stated_at) AS first_tested_at, max(r.stated_at) AS last_tested_at,
           min(e.received_at) AS first_received_at
    FROM source_rows AS r
    LEFT JOIN export AS e ON e.export_hash = r.export_hash
    WHERE r.sample_id IS NOT NULL AND r.record <> 'sample'
    GROUP BY r.sample_id
), first_runs AS (
    SELECT sample_id, min(valid_from_run) AS run_id
    FROM property_value
    WHERE value IS NOT NULL
    GROUP BY sample_id
), figures AS (
    SELECT f.sample_id, r.finished_at
    FROM first_runs AS f
    JOIN run AS r ON r.run_id = f.run_id
)
SELECT s.sample_id, s.project_id, s.laboratory_id, s.phase, s.taken_on, read.first_tested_at, read.last_tested_at,
       read.first_received_at, figures.finished_at AS first_figure_at,
       read.first_tested_at::DATE - s.taken_on AS days_to_test,
       read.last_tested_at::DATE - read.first_tested_at::DATE AS days_in_test,
       figures.finished_at::DATE - s.taken_on AS days_to_figure
FROM sample AS s
LEFT JOIN read ON read.sample_id = s.sample_id
LEFT JOIN figures ON figures.sample_id = s.sample_id
WHERE s.valid_to_run IS NULL
