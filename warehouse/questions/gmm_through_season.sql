-- question: How does the Gmm of each mix move through the season, month by month?
SELECT mix_id, date_trunc('month', taken_on)::DATE AS month, count(*) AS samples, avg(gmm) AS gmm,
       avg(gmm) - lag(avg(gmm)) OVER (PARTITION BY mix_id ORDER BY date_trunc('month', taken_on)) AS change
FROM volumetrics
WHERE phase = 'production' AND gmm IS NOT NULL
GROUP BY mix_id, date_trunc('month', taken_on)
ORDER BY mix_id, month
