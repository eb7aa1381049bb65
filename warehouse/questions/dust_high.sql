-- question: Where is the dust proportion above 1.2?
SELECT sample_id, mix_id, phase, taken_on, dust_proportion, pbe_pct
FROM volumetrics
WHERE dust_proportion > 1.2
ORDER BY dust_proportion DESC
