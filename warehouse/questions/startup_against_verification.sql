-- question: Did the plant mix at start-up prove to be the mix that was verified: how far apart are Gmm, Gmb, Pb, Va and VMA?
SELECT mix_id, property, symbol, verification, startup, startup - verification AS difference
FROM design_phases
WHERE property IN ('gmm', 'gmb', 'pb', 'air_voids', 'vma') AND verification IS NOT NULL AND startup IS NOT NULL
ORDER BY mix_id, property
