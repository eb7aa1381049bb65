-- purpose: Volumetrics of each sample of mixture, wide.
-- grain: sample with at least one of these figures
-- cautions: Means of specimens, unrounded. A figure that is missing or withheld is null: `missing_values` says why.
-- columns:
--   sample_id: = sample.sample_id
--   project_id: = sample.project_id
--   mix_id: = sample.mix_id
--   revision: = mix_design.revision
--   nmas_mm: = mix_design.nmas_mm
--   binder_grade: = mix_design.binder_grade
--   plant: = mix_design.plant
--   phase: = sample.phase
--   laboratory_id: = sample.laboratory_id
--   lot: = sample.lot
--   sublot: = sample.sublot
--   taken_on: = sample.taken_on
--   pb_pct: Binder content of the mix by mass (Pb). Unit: %.
--   gmm: Maximum specific gravity (Gmm).
--   gmb: Bulk specific gravity of the specimens (Gmb).
--   air_voids_pct: Air voids at N design (Va). Unit: %.
--   vma_pct: Voids in the mineral aggregate (VMA). Unit: %.
--   vfa_pct: Voids filled with binder (VFA). Unit: %.
--   gse: Effective specific gravity of the aggregate (Gse).
--   pba_pct: Absorbed binder, of the aggregate by mass (Pba). Unit: %.
--   pbe_pct: Effective binder content (Pbe). Unit: %.
--   dust_proportion: Passing 0.075 mm over effective binder (DP).
--   doubtful: How many of these figures carry a flag.
SELECT s.sample_id, s.project_id, s.mix_id, s.revision, s.nmas_mm, s.binder_grade, s.plant, s.phase, s.laboratory_id,
       s.lot, s.sublot, s.taken_on, f.pb_pct, f.gmm, f.gmb, f.air_voids_pct, f.vma_pct, f.vfa_pct, f.gse, f.pba_pct,
       f.pbe_pct, f.dust_proportion, f.doubtful
FROM (
    SELECT sample_id, max(value) FILTER (property = 'pb') AS pb_pct, max(value) FILTER (property = 'gmm') AS gmm,
           max(value) FILTER (property = 'gmb') AS gmb, max(value) FILTER (property = 'air_voids') AS air_voids_pct,
           max(value) FILTER (property = 'vma') AS vma_pct, max(value) FILTER (property = 'vfa') AS vfa_pct,
           max(value) FILTER (property = 'gse') AS gse, max(value) FILTER (property = 'pba') AS pba_pct,
           max(value) FILTER (property = 'pbe') AS pbe_pct,
           max(value) FILTER (property = 'dust_proportion') AS dust_proportion, count(flags) AS doubtful
    FROM property_value
    WHERE valid_to_run IS NULL AND level = 'sample' AND value IS NOT NULL
      AND property IN ('pb', 'gmm', 'gmb', 'air_voids', 'vma', 'vfa', 'gse', 'pba', 'pbe', 'dust_proportion')
    GROUP BY sample_id
) AS f
JOIN samples AS s ON s.sample_id = f.sample_id
