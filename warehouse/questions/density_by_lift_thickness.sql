-- question: Are thin lifts compacted worse: in-place density against thickness over nominal maximum size?
SELECT floor(c.thickness_mm / s.nmas_mm) AS thickness_over_nmas, count(*) AS cores, avg(v.value) AS compaction_mean_pct,
       avg(a.value) AS air_voids_mean_pct
FROM core AS c
JOIN samples AS s ON s.sample_id = c.sample_id
JOIN property_values AS v ON v.sample_id = c.sample_id AND v.specimen_no = c.specimen_no AND v.property = 'relative_compaction'
JOIN property_values AS a ON a.sample_id = c.sample_id AND a.specimen_no = c.specimen_no AND a.property = 'core_air_voids'
WHERE c.valid_to_run IS NULL AND c.thickness_mm IS NOT NULL
GROUP BY thickness_over_nmas
ORDER BY thickness_over_nmas
