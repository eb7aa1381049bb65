-- question: How well do the laboratories repeat Gmb and Gmm, and how far do they lie off the designs?
SELECT property, laboratory_id, year, samples, specimens, repeatability, mean_off_target
FROM laboratory_comparison
WHERE property IN ('gmb', 'gmm')
ORDER BY property, laboratory_id, year
