-- purpose: Current judgement of each sample result against each limit that applies to it.
-- grain: sample and limit
-- cautions: Supports the engineer's judgement and never replaces it. A result that was not judged says why.
-- columns:
--   sample_id: = judgement.sample_id
--   set_id: = judgement.set_id
--   limit_id: = judgement.limit_id
--   property: = judgement.property
--   point: = judgement.point
--   symbol: = property.symbol
--   name: = property.name
--   unit: = property.unit
--   value: = judgement.value
--   target: = judgement.target
--   lower: = judgement.lower
--   upper: = judgement.upper
--   decision_rule: = judgement.decision_rule
--   uncertainty: = judgement.uncertainty
--   guard: = judgement.guard
--   margin: = judgement.margin
--   probability: = judgement.probability
--   verdict: = judgement.verdict
--   reason: = judgement.reason
--   flags: = judgement.flags
--   source: = specification_limit.source
--   mark: = specification_limit.mark
--   valid_from_run: = judgement.valid_from_run
SELECT j.sample_id, j.set_id, j.limit_id, j.property, j.point, p.symbol, p.name, p.unit, j.value, j.target,
       j.lower, j.upper, j.decision_rule, j.uncertainty, j.guard, j.margin, j.probability, j.verdict, j.reason, j.flags, l.source, l.mark, j.valid_from_run
FROM judgement AS j
LEFT JOIN property AS p ON p.property = j.property
LEFT JOIN specification_limit AS l
    ON l.set_id = j.set_id AND l.limit_id = j.limit_id AND l.valid_to_run IS NULL
WHERE j.valid_to_run IS NULL
