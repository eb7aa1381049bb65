-- purpose: History of the state of each mix in production after each of its results.
-- grain: result of a mix
-- cautions: The last row of a mix is its present state; only mixes whose set states a stop rule are listed.
-- columns:
--   project_id: = mix_event.project_id
--   mix_id: = mix_event.mix_id
--   event_no: = mix_event.event_no
--   taken_on: = mix_event.taken_on
--   sample_id: = mix_event.sample_id
--   purpose: = mix_event.purpose
--   out: = mix_event.out
--   failed: = mix_event.failed
--   state: = mix_event.state
--   valid_from_run: = mix_event.valid_from_run
SELECT t.project_id, t.mix_id, t.event_no, t.taken_on, t.sample_id, t.purpose, t.out, t.failed, t.state,
       t.valid_from_run
FROM mix_event AS t
WHERE t.valid_to_run IS NULL
