-- question: On which sieves does production run coarser or finer than the job mix formula, mix by mix?
SELECT mix_id, revision, sieve_mm, count(*) AS samples, avg(difference_pct) AS mean_difference_pct
FROM gradation_against_design
WHERE phase = 'production' AND target_pct IS NOT NULL
GROUP BY mix_id, revision, sieve_mm
HAVING abs(mean_difference_pct) > 1
ORDER BY mix_id, revision, sieve_mm DESC
