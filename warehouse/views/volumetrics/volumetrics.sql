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
SELECT sample_id, project_id, mix_id, revision, nmas_mm, binder_grade, plant, phase, laboratory_id, lot, sublot, taken_on,
       max(value) FILTER (property = 'pb') AS pb_pct, max(value) FILTER (property = 'gmm') AS gmm,
       max(value) FILTER (property = 'gmb') AS gmb, max(value) FILTER (property = 'air_voids') AS air_voids_pct,
       max(value) FILTER (property = 'vma') AS vma_pct, max(value) FILTER (property = 'vfa') AS vfa_pct,
       max(value) FILTER (property = 'gse') AS gse, max(value) FILTER (property = 'pba') AS pba_pct,
       max(value) FILTER (property = 'pbe') AS pbe_pct,
       max(value) FILTER (property = 'dust_proportion') AS dust_proportion, count(flags) AS doubtful
FROM sample_values
WHERE property IN ('pb', 'gmm', 'gmb', 'air_voids', 'vma', 'vfa', 'gse', 'pba', 'pbe', 'dust_proportion')
GROUP BY ALL
