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
--   binder_grade: = mix_design.binder_grade
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
WITH latest AS (
    SELECT mix_id, revision, nmas_mm, binder_grade, plant, valid_from
    FROM mix_design
    WHERE valid_to_run IS NULL
    QUALIFY row_number() OVER (PARTITION BY mix_id, valid_from ORDER BY revision DESC) = 1
), designs AS (
    SELECT mix_id, revision, nmas_mm, binder_grade, plant,
           CASE WHEN lag(valid_from) OVER periods IS NULL THEN DATE '0001-01-01' ELSE valid_from END AS first_day,
           coalesce(lead(valid_from) OVER periods, DATE '9999-12-31') AS next_day
    FROM latest
    WINDOW periods AS (PARTITION BY mix_id ORDER BY valid_from)
)
SELECT s.sample_id, s.project_id, p.project_name, p.set_id, s.mix_id, d.revision, d.nmas_mm, d.binder_grade, d.plant,
       s.material, s.phase, s.laboratory_id, l.laboratory_name, s.lot, s.sublot, s.taken_on, s.place, s.tonnage_t
FROM sample AS s
LEFT JOIN project AS p ON p.project_id = s.project_id AND p.valid_to_run IS NULL
LEFT JOIN laboratory AS l ON l.laboratory_id = s.laboratory_id AND l.valid_to_run IS NULL
LEFT JOIN designs AS d ON d.mix_id = s.mix_id AND s.taken_on >= d.first_day AND s.taken_on < d.next_day
WHERE s.valid_to_run IS NULL
