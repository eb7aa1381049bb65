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
            "lower": 92.0, "upper": None, "within_pct": 95.5, "pay_pct": 101.25, "weight": 0.6, "composite_pct": 100.5,
            "composite_rule": "weighted",
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
    return {"lots": lots, "charts": charts, "density_places": _places(samples)}


#: Stations and offsets of the cores of one sample, with relative compaction, its text and side of 92.0 to 97.0;
#: the last core has no station. Invented.
CORES = (
    (1210.5, -1.8, 93.64, "93.6", "within"),
    (1263.0, 2.25, 91.84, "91.8", "below"),
    (1300.2, 0.4, 97.36, "97.4", "above"),
    (None, None, 94.0, "94.0", "within"),
)
#: A gauge read at the second core, and at a place of its own.
GAUGE = ((2, 1263.0, 2.25, 92.1, "92.1"), (5, 1330.7, -0.9, 93.2, "93.2"))


def _places(samples: Rows) -> Rows:
    """Return cores of every sample of cores, and gauge places of each, in the order of the stations."""
    rows: Rows = []
    for sample in (each for each in samples if each["material"] == "core" and each["lot"]):
        own = {name: sample[name] for name in ("project_id", "mix_id", "lot", "sample_id")} | {"place_unit": "m"}
        own |= dict.fromkeys(("point", "withheld", "flags", "replaced_by"))
        limits = {"lower": 92.0, "upper": 97.0, "basis": "plan"}
        rows += [
            {
                **own,
                "specimen_no": str(no),
                "property": "relative_compaction",
                "station": station,
                "offset": offset,
                "value": value,
                "text": text,
                "side": side,
                **limits,
            }
            for no, (station, offset, value, text, side) in enumerate(CORES, start=1)
        ]
        rows += [
            {
                **own,
                "specimen_no": str(no),
                "property": "relative_compaction_gauge",
                "station": station,
                "offset": offset,
                "value": value,
                "text": text,
            }
            for no, station, offset, value, text in GAUGE
        ]
    return sorted(
        rows,
        key=lambda row: (row["project_id"], row["mix_id"], row["lot"], row["station"] is None, row["station"] or 0.0),
    )
