-- question: Which figures are in doubt, for what reason, and how many of each laboratory?
SELECT s.laboratory_id, d.flag, d.sentence, count(*) AS figures, count(DISTINCT d.sample_id) AS samples
FROM doubtful_values AS d
JOIN samples AS s ON s.sample_id = d.sample_id
GROUP BY s.laboratory_id, d.flag, d.sentence
ORDER BY figures DESC, s.laboratory_id, d.flag
