-- question: Which masses were corrected by a later issue, from what to what, and by which file?
SELECT o.sample_id, o.specimen_no, o.method, o.role, o.mass_g AS mass_before_g, n.mass_g AS mass_after_g,
       e.name AS corrected_by
FROM weighing AS o
JOIN weighing AS n
    ON n.sample_id = o.sample_id AND n.specimen_no = o.specimen_no AND n.method = o.method AND n.role = o.role
    AND n.sieve_mm IS NOT DISTINCT FROM o.sieve_mm AND n.valid_to_run IS NULL
JOIN exports AS e ON e.export_hash = n.export_hash
WHERE o.superseded_by IS NOT NULL AND o.mass_g <> n.mass_g
ORDER BY o.sample_id, o.specimen_no, o.method, o.role
