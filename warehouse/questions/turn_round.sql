-- question: How many days pass from sampling to the last reading, by laboratory and phase: median and longest?
SELECT laboratory_id, phase, count(*) AS samples, median(days_to_test + days_in_test) AS median_days,
       max(days_to_test + days_in_test) AS longest_days
FROM turn_round
WHERE days_in_test IS NOT NULL
GROUP BY laboratory_id, phase
ORDER BY laboratory_id, phase
