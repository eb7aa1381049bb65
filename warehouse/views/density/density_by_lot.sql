-- purpose: In-place density of each lot, from its cores.
-- grain: project, mix and lot with cores
-- cautions: Relative to the mean Gmm of the lot's loose mix. Cores whose density is doubtful count, too (`doubtful`).
-- columns:
--   project_id: = sample.project_id
--   mix_id: = sample.mix_id
--   lot: = sample.lot
--   laboratory_id: = sample.laboratory_id
--   plant: = mix_design.plant
--   first_day: First day on which cores were taken.
--   last_day: Last day on which cores were taken.
--   cores: Cores with a relative compaction.
--   doubtful: Cores among them whose figure carries a flag.
--   compaction_mean_pct: Mean relative compaction, in percent of Gmm. Unit: %.
--   compaction_deviation_pct: Standard deviation (n - 1) of the cores. Unit: %.
--   compaction_least_pct: Lowest core. Unit: %.
--   compaction_greatest_pct: Highest core. Unit: %.
--   air_voids_mean_pct: Mean air voids of the cores. Unit: %.
--   thickness_mean_mm: Mean thickness of the cores. Unit: mm.
--   tonnage_t: Largest tonnage stated on the day of a core. Unit: t.
SELECT s.project_id, s.mix_id, s.lot, s.laboratory_id, s.plant, min(s.taken_on) AS first_day, max(s.taken_on) AS last_day,
       count(*) AS cores, count(v.flags) AS doubtful, avg(v.value) AS compaction_mean_pct,
       stddev_samp(v.value) AS compaction_deviation_pct, min(v.value) AS compaction_least_pct,
       max(v.value) AS compaction_greatest_pct, avg(a.value) AS air_voids_mean_pct,
       avg(c.thickness_mm) AS thickness_mean_mm, max(s.tonnage_t) AS tonnage_t
FROM property_value AS v
JOIN samples AS s ON s.sample_id = v.sample_id
LEFT JOIN property_value AS a
    ON a.sample_id = v.sample_id AND a.specimen_no = v.specimen_no AND a.level = 'specimen'
    AND a.property = 'core_air_voids' AND a.valid_to_run IS NULL
LEFT JOIN core AS c ON c.sample_id = v.sample_id AND c.specimen_no = v.specimen_no AND c.valid_to_run IS NULL
WHERE v.property = 'relative_compaction' AND v.level = 'specimen' AND v.valid_to_run IS NULL AND v.value IS NOT NULL
GROUP BY s.project_id, s.mix_id, s.lot, s.laboratory_id, s.plant
