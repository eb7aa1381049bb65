-- question: Which mixes rutted more than 12.5 mm at 20,000 passes, or stripped before 15,000 passes, under either wheel?
SELECT mix_id, phase, sample_id, max(rut_depth_20000_mm) AS rut_depth_mm, min(sip_lines) AS sip_passes,
       min(passes_to_limit_depth) AS passes_to_limit_depth
FROM rutting
GROUP BY mix_id, phase, sample_id
HAVING max(rut_depth_20000_mm) > 12.5 OR min(sip_lines) < 15000
ORDER BY rut_depth_mm DESC
