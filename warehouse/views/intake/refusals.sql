-- purpose: What is refused or waits at present: file, place, what is wrong and what to do.
-- grain: refusal
-- cautions: File name and what was found are text of the export as it stands. A refusal that was mended is in the table `refusal`.
-- columns:
--   stage: = refusal.stage
--   code: = refusal.code
--   file_name: Name of the file; null where none is concerned.
--   found_at: Place in the file, in words.
--   sample_id: = refusal.sample_id
--   record: = refusal.record
--   column_name: = refusal.column_name
--   found: = refusal.found
--   reason: = refusal.reason
--   remedy: = refusal.remedy
--   export_hash: = refusal.export_hash
--   source_part: = refusal.source_part
--   source_line: = refusal.source_line
--   valid_from_run: = refusal.valid_from_run
SELECT r.stage, r.code, e.name AS file_name,
       CASE
           WHEN r.export_hash IS NULL AND r.source_line IS NULL AND r.source_part IS NULL THEN NULL
           WHEN r.source_line IS NULL AND r.source_part IS NULL THEN 'whole file'
           ELSE concat_ws(', ', r.source_part, 'line ' || r.source_line)
       END AS found_at,
       r.sample_id, r.record, r.column_name, r.found, r.reason, r.remedy, r.export_hash, r.source_part, r.source_line,
       r.valid_from_run
FROM refusal AS r
LEFT JOIN export AS e ON e.export_hash = r.export_hash
WHERE r.valid_to_run IS NULL
