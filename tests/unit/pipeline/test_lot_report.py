"""The working of a lot as it is shown."""

from pipeline.lot_report import told

ROW: dict[str, object] = {
    "property": "relative_compaction",
    "point": None,
    "material": "core",
    "plan_id": "density",
    "set_id": "S",
    "source": "a contract",
    "mark": None,
    "results": "QL-1/1=91.26801583417432 QL-1/2=92.0",
    "left_out": None,
    "lower": 92.0,
    "upper": None,
    "n": 3,
    "mean": 93.0,
    "s": 0.5,
    "q_lower": 2.0,
    "q_upper": None,
    "within_pct": 100.0,
    "within_lower_pct": 100.0,
    "within_upper_pct": 100.0,
    "beyond_pct": 0.0,
    "look_up": "closed_form",
    "deviation": None,
    "outlier": None,
    "pay_pct": 105.0,
    "equation": "florida",
    "pay_rule": "pwl: 0.55 + 0.005 × 100.0",
    "pay_source": "FDOT",
    "consequence": None,
    "retest": False,
    "removal": False,
    "reason": None,
}


def test_data_statistics_and_pay_are_shown_line_by_line() -> None:
    lines = [line.strip() for line in told(ROW)]
    assert lines[1] == "data      QL-1/1=91.268 QL-1/2=92"
    assert "Q lower   (93 - 92) / 0.5 = 2.0000" in lines
    assert "pay       105.00 % by florida, pwl: 0.55 + 0.005 × 100.0 [FDOT]" in lines


def test_a_lot_too_small_shows_why_and_no_quality_index() -> None:
    small = ROW | {"n": 2, "within_pct": None, "beyond_pct": None, "pay_pct": None, "reason": "2 results: too few"}
    lines = "\n".join(told(small))
    assert "no figure 2 results: too few" in lines
    assert "Q lower" not in lines and "PWL" not in lines
