-- question: In which wheel tests do left and right wheel differ by more than 0.3 mm at 10,000 passes?
SELECT l.sample_id, l.mix_id, l.rut_depth_10000_mm AS left_mm, r.rut_depth_10000_mm AS right_mm,
       l.rut_depth_10000_mm - r.rut_depth_10000_mm AS difference_mm
FROM rutting AS l
JOIN rutting AS r ON r.sample_id = l.sample_id AND r.specimen_no = l.specimen_no AND r.wheel = 'right'
WHERE l.wheel = 'left' AND abs(l.rut_depth_10000_mm - r.rut_depth_10000_mm) > 0.3
ORDER BY abs(difference_mm) DESC, l.sample_id
