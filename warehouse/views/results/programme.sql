-- purpose: Work list: what is due, missing, late, invalid or doubtful.
-- grain: item
-- cautions: Nothing here knows what day it is: compare `since` and `due_on` with the day you ask about.
-- columns:
--   kind: = programme_item.kind
--   project_id: = programme_item.project_id
--   mix_id: = programme_item.mix_id
--   lot: = programme_item.lot
--   sample_id: = programme_item.sample_id
--   subject: = programme_item.subject
--   since: = programme_item.since
--   due_on: = programme_item.due_on
--   sentence: = programme_item.sentence
--   remedy: = programme_item.remedy
--   valid_from_run: = programme_item.valid_from_run
SELECT t.kind, t.project_id, t.mix_id, t.lot, t.sample_id, t.subject, t.since, t.due_on, t.sentence, t.remedy,
       t.valid_from_run
FROM programme_item AS t
WHERE t.valid_to_run IS NULL
