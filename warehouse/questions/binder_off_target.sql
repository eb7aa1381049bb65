-- question: Which production samples are more than 0.3 % off the target binder content?
SELECT v.sample_id, v.mix_id, v.lot, v.sublot, v.taken_on, v.pb_pct, t.target AS target_pct,
       v.pb_pct - t.target AS difference_pct
FROM volumetrics AS v
JOIN design_targets AS t ON t.mix_id = v.mix_id AND t.revision = v.revision AND t.property = 'pb'
WHERE v.phase = 'production' AND abs(v.pb_pct - t.target) > 0.3
ORDER BY abs(difference_pct) DESC, v.sample_id
