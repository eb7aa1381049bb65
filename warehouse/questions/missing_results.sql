-- question: Which results that the specification requires are missing, and why?
SELECT s.project_id, j.sample_id, s.phase, j.property, j.point, j.reason
FROM judgements AS j
JOIN samples AS s ON s.sample_id = j.sample_id
WHERE j.verdict = 'not_judged' AND j.value IS NULL
ORDER BY s.project_id, j.sample_id, j.property, j.point
