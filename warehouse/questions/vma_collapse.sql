-- question: On which mixes does production VMA fall short of the design VMA, and by how much on average?
SELECT project_id, mix_id, revision, target AS design_pct, production AS production_pct,
       production_less_target AS difference_pct, production_samples
FROM design_phases
WHERE property = 'vma' AND production_less_target < 0
ORDER BY difference_pct
