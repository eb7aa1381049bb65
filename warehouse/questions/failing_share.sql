-- question: What share of the judged results fails, by project and property?
SELECT s.project_id, j.property, count(*) AS judged, count(*) FILTER (j.verdict = 'fail') AS failed,
       100.0 * count(*) FILTER (j.verdict = 'fail') / count(*) AS failed_pct
FROM judgements AS j
JOIN samples AS s ON s.sample_id = j.sample_id
WHERE j.verdict <> 'not_judged'
GROUP BY s.project_id, j.property
HAVING failed > 0
ORDER BY failed_pct DESC, s.project_id, j.property
