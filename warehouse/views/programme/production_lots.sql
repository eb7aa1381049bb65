-- purpose: Lots of production: when, how much, and how many samples of each kind.
-- grain: project, mix and lot
-- cautions: Tonnage is the largest the register states for a sample of the lot, counted by whoever counts it there.
-- columns:
--   project_id: = sample.project_id
--   mix_id: = sample.mix_id
--   lot: = sample.lot
--   laboratory_id: = sample.laboratory_id
--   first_day: First day of sampling.
--   last_day: Last day of sampling.
--   mix_samples: Samples of loose mix.
--   core_samples: Samples of cores.
--   tonnage_t: Largest tonnage stated. Unit: t.
--   judged: Results judged.
--   failed: Results outside their limits.
SELECT s.project_id, s.mix_id, s.lot, min(s.laboratory_id) AS laboratory_id, min(s.taken_on) AS first_day,
       max(s.taken_on) AS last_day, count(*) FILTER (s.material = 'mix') AS mix_samples,
       count(*) FILTER (s.material = 'core') AS core_samples, max(s.tonnage_t) AS tonnage_t,
       coalesce(sum(j.judged), 0)::BIGINT AS judged, coalesce(sum(j.failed), 0)::BIGINT AS failed
FROM sample AS s
LEFT JOIN (
    SELECT sample_id, count(*) FILTER (verdict <> 'not_judged') AS judged, count(*) FILTER (verdict = 'fail') AS failed
    FROM judgement
    WHERE valid_to_run IS NULL
    GROUP BY sample_id
) AS j ON j.sample_id = s.sample_id
WHERE s.valid_to_run IS NULL AND s.lot IS NOT NULL
GROUP BY s.project_id, s.mix_id, s.lot
