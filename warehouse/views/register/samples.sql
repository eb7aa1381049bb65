-- purpose: The register of samples with project, laboratory and the revision of the mix design that held on the day of sampling.
-- grain: sample of the register
-- cautions: The revision is the one that last became valid by the day; a sample older than every revision gets the first one.
-- columns:
--   sample_id: = sample.sample_id
--   project_id: = sample.project_id
--   project_name: = project.project_name
--   set_id: = project.set_id
--   mix_id: = sample.mix_id
--   revision: = mix_design.revision
--   nmas_mm: = mix_design.nmas_mm
--   plant: = mix_design.plant
--   material: = sample.material
--   phase: = sample.phase
--   laboratory_id: = sample.laboratory_id
--   laboratory_name: = laboratory.laboratory_name
--   lot: = sample.lot
--   sublot: = sample.sublot
--   taken_on: = sample.taken_on
--   place: = sample.place
--   tonnage_t: = sample.tonnage_t
WITH designs AS (
    SELECT sample.sample_id, design.revision, design.nmas_mm, design.plant,
           design.valid_from <= sample.taken_on AS had_begun
    FROM sample
    JOIN mix_design AS design USING (mix_id)
    WHERE sample.valid_to_run IS NULL AND design.valid_to_run IS NULL
    QUALIFY row_number() OVER (
        PARTITION BY sample.sample_id
        ORDER BY had_begun DESC, abs(design.valid_from - sample.taken_on), design.revision DESC
    ) = 1
)
SELECT s.sample_id, s.project_id, p.project_name, p.set_id, s.mix_id, d.revision, d.nmas_mm, d.plant, s.material,
       s.phase, s.laboratory_id, l.laboratory_name, s.lot, s.sublot, s.taken_on, s.place, s.tonnage_t
FROM sample AS s
LEFT JOIN project AS p ON p.project_id = s.project_id AND p.valid_to_run IS NULL
LEFT JOIN laboratory AS l ON l.laboratory_id = s.laboratory_id AND l.valid_to_run IS NULL
LEFT JOIN designs AS d ON d.sample_id = s.sample_id
WHERE s.valid_to_run IS NULL
