-- question: Which lots have a mean in-place density below 92 % of Gmm, or a core below 91 %?
SELECT project_id, mix_id, lot, cores, compaction_mean_pct, compaction_deviation_pct, compaction_least_pct
FROM density_by_lot
WHERE compaction_mean_pct < 92 OR compaction_least_pct < 91
ORDER BY compaction_mean_pct
