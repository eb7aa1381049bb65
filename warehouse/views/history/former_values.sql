-- purpose: What was reported before: every figure that no longer holds, when it held, what took its place, and why.
-- grain: figure and period of validity
-- cautions: The reason names what changed for the sample in the run that replaced the figure; where several things changed, all are named.
-- columns:
--   sample_id: = property_value.sample_id
--   level: = property_value.level
--   method: = property_value.method
--   specimen_no: = property_value.specimen_no
--   property: = property_value.property
--   point: = property_value.point
--   value: The figure that held then, unrounded; null where it was withheld.
--   withheld: = property_value.withheld
--   value_after: The figure that took its place; null if none did.
--   withheld_after: Why none did.
--   valid_from_run: = property_value.valid_from_run
--   valid_to_run: = property_value.valid_to_run
--   held_from: When it was stored, UTC.
--   held_to: When it was replaced, UTC.
--   reason: What changed in the run that replaced it.
WITH former AS (
    SELECT * FROM property_value WHERE valid_to_run > valid_from_run
), subjects AS (
    SELECT DISTINCT f.sample_id, f.valid_to_run AS run_id, s.mix_id, s.project_id
    FROM former AS f
    LEFT JOIN sample AS s ON s.sample_id = f.sample_id AND s.valid_to_run IS NULL
), said AS (
    SELECT run_id, sample_id, mix_id, project_id,
           record || ' ' || record_key || ': ' || coalesce(differences, change) AS text
    FROM record_change
    WHERE differences IS NOT NULL OR change = 'withdrawn'
), entered AS (
    SELECT r.sample_id, r.valid_from_run AS run_id, 'new rows: ' || string_agg(DISTINCT r.record, ', ' ORDER BY r.record) AS text
    FROM source_rows AS r
    SEMI JOIN subjects AS s ON s.sample_id = r.sample_id AND s.run_id = r.valid_from_run
    ANTI JOIN record_change AS c ON c.run_id = r.valid_from_run AND c.record = r.record AND c.record_key = r.record_key
    GROUP BY r.sample_id, r.valid_from_run
), causes AS (
    SELECT s.sample_id, s.run_id, c.text FROM subjects AS s JOIN said AS c ON c.run_id = s.run_id AND c.sample_id = s.sample_id
    UNION ALL
    SELECT s.sample_id, s.run_id, c.text
    FROM subjects AS s
    JOIN said AS c ON c.run_id = s.run_id AND c.mix_id = s.mix_id AND c.sample_id IS NULL
    UNION ALL
    SELECT sample_id, run_id, text FROM entered
), reasons AS (
    SELECT sample_id, run_id, string_agg(DISTINCT text, '; ' ORDER BY text) AS text FROM causes GROUP BY sample_id, run_id
)
SELECT f.sample_id, f.level, f.method, f.specimen_no, f.property, f.point, f.value, f.withheld, n.value AS value_after,
       n.withheld AS withheld_after, f.valid_from_run, f.valid_to_run, began.finished_at AS held_from,
       ended.finished_at AS held_to,
       coalesce(
           nullif(
               concat_ws(
                   '; ',
                   CASE WHEN n.formula_version <> f.formula_version AND n.route = f.route THEN 'formula changed' END,
                   CASE WHEN n.route <> f.route THEN 'computed by another way: ' || n.route END,
                   CASE WHEN n.parameters IS DISTINCT FROM f.parameters AND n.property IS NOT NULL THEN 'settings changed' END,
                   r.text
               ),
               ''
           ),
           'something it shares project, mix and lot with changed'
       ) AS reason
FROM former AS f
LEFT JOIN property_value AS n
    ON n.sample_id = f.sample_id AND n.level = f.level AND n.method IS NOT DISTINCT FROM f.method
    AND n.specimen_no IS NOT DISTINCT FROM f.specimen_no AND n.property = f.property
    AND n.point IS NOT DISTINCT FROM f.point
    AND n.valid_from_run <= f.valid_to_run AND (n.valid_to_run IS NULL OR n.valid_to_run > f.valid_to_run)
LEFT JOIN reasons AS r ON r.sample_id = f.sample_id AND r.run_id = f.valid_to_run
LEFT JOIN run AS began ON began.run_id = f.valid_from_run
LEFT JOIN run AS ended ON ended.run_id = f.valid_to_run
