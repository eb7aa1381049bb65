"""Invented lots and control charts, to go with the invented samples."""

from typing import Any

Rows = list[dict[str, Any]]


def tables(samples: Rows) -> dict[str, Rows]:
    """Return the rows of lots and charts; every fifth point of a chart carries a signal."""
    places = sorted({(row["project_id"], row["mix_id"], row["lot"]) for row in samples if row["lot"]})
    lots = [
        {
            "project_id": project, "mix_id": mix, "lot": lot, "plan_id": "core-density",
            "property": "relative_compaction", "n": 5, "left_out": 1, "mean": 93.64, "s": 0.95, "target": None,
            "lower": 92.0, "upper": None, "within_pct": 95.5, "pay_pct": 101.25, "composite_pct": 100.5,
            "consequence": "the engineer decides", "retest": False, "removal": False, "outlier": True,
            "pay_rule": "equation", "reason": "few results", "source": "example set", "mark": None,
        }
        for project, mix, lot in places
    ]  # fmt: skip
    taken: dict[str, Rows] = {}
    for row in samples:
        if row["phase"] == "production":
            taken.setdefault(row["mix_id"], []).append(row)
    charts = [
        {
            "project_id": row["project_id"], "mix_id": mix, "property": "air_voids", "point": None,
            "sample_id": row["sample_id"], "taken_on": row["taken_on"], "place_no": place,
            "value": 6.0 if place % 5 == 0 else 4.0, "target": 4.0, "centre": 4.4, "lower_control": 3.0,
            "upper_control": 5.8, "signals": "beyond_3_sigma" if place % 5 == 0 else None,
            "published": "action" if place % 5 == 0 else None,
        }
        for mix, rows in taken.items()
        for place, row in enumerate(rows, start=1)
    ]  # fmt: skip
    return {"lots": lots, "charts": charts}
