-- question: How do rut depths at 10,000 passes compare between binder grades and recycled contents?
SELECT d.binder_grade, d.recycled_pct, count(*) AS wheels, avg(r.rut_depth_10000_mm) AS rut_depth_mean_mm,
       max(r.rut_depth_10000_mm) AS rut_depth_greatest_mm
FROM rutting AS r
JOIN mix_design AS d ON d.mix_id = r.mix_id AND d.revision = r.revision AND d.valid_to_run IS NULL
WHERE r.rut_depth_10000_mm IS NOT NULL
GROUP BY d.binder_grade, d.recycled_pct
ORDER BY d.binder_grade, d.recycled_pct
