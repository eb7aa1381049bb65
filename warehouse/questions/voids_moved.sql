-- question: Which mixes with PG 64 binder moved by more than 0.5 % air voids between design and production, by plant and year?
SELECT v.plant, year(v.taken_on) AS year, v.mix_id, v.revision, t.target AS design_pct,
       avg(v.air_voids_pct) AS production_pct, avg(v.air_voids_pct) - t.target AS moved_pct
FROM volumetrics AS v
JOIN design_targets AS t ON t.mix_id = v.mix_id AND t.revision = v.revision AND t.property = 'air_voids'
WHERE v.phase = 'production' AND v.binder_grade LIKE 'PG 64%'
GROUP BY v.plant, year, v.mix_id, v.revision, t.target
HAVING abs(moved_pct) > 0.5
ORDER BY v.plant, year, v.mix_id, v.revision
