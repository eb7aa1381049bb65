"""Invented comparisons of laboratories and plants, and lots in sum, to go with the invented samples."""

import datetime as dt
from typing import Any

Rows = list[dict[str, Any]]
_LAST = dt.date(2026, 5, 9)


def _places(samples: Rows) -> Rows:
    counts: dict[tuple[Any, ...], int] = {}
    for row in samples:
        key = tuple(row[name] for name in ("project_id", "laboratory_id", "plant", "binder_grade"))
        counts[key] = counts.get(key, 0) + 1
    return [
        dict(zip(("project_id", "laboratory_id", "plant", "binder_grade"), key, strict=True)) | {"samples": count}
        for key, count in counts.items()
    ]


def _laboratories(samples: Rows) -> dict[str, Rows]:
    names = sorted({row["laboratory_id"] for row in samples})
    figures = [
        {
            "laboratory_id": name, "year": 2026, "property": property_, "point": None, "samples": 20, "doubtful": 1,
            "mean_off_target": off, "deviation_off_target": abs(off or 0) + 0.25, "repeatability": 0.125,
            "specimens": 40,
        }
        for place, name in enumerate(names)
        for property_, off in (("air_voids", 0.25 * place - 0.25), ("gmb", None))
    ]  # fmt: skip
    return {
        "laboratories": [
            {
                "laboratory_id": name, "laboratory_name": f"{name} laboratory", "region": "coast",
                "samples": 20 + place, "last_on": _LAST, "timed": 18 if place else 0,
                "days_median": 1.5 if place else None,
                "days_longest": 6.0 if place else None, "duplicates": 10 * place, "duplicates_beyond": place,
            }
            for place, name in enumerate(names)
        ],
        "laboratory_figures": figures,
        "laboratory_refusals": [
            {"laboratory_id": name, "refusals": 3, "files": 2} for name in (*names[:1], None)
        ],
    }  # fmt: skip


def _split(samples: Rows) -> dict[str, Rows]:
    first, second = ([row for row in samples if row["laboratory_id"] == name][:3] for name in ("HB", "QL"))
    verdicts = (
        ("air_voids", 0.00004, "fail", None),
        ("gmb", 0.5, "pass", None),
        ("pb", None, "not_judged", "one pair"),
    )
    return {
        "split_pairs": [
            {
                "first": "HB", "second": "QL", "sample_id": one["sample_id"], "other_id": other["sample_id"],
                "taken_on": one["taken_on"],
            }
            for one, other in zip(first, second, strict=False)
        ],
        "laboratory_bias": [
            {
                "first": "HB", "second": "QL", "property": name, "point": None, "pairs": 3, "difference": 0.475,
                "deviation": 0.136, "chance": chance, "significance": 0.01, "verdict": verdict, "reason": reason,
            }
            for name, chance, verdict, reason in verdicts
        ],
    }  # fmt: skip


def _plants(samples: Rows) -> dict[str, Rows]:
    names = sorted({row["plant"] for row in samples})
    return {
        "plants": [{"plant": name, "samples": 14, "mixes": 2, "last_on": _LAST} for name in names],
        "plant_figures": [
            {
                "plant": name, "year": 2026, "property": property_, "point": None, "samples": 14, "doubtful": 0,
                "mixes": 2, "mean_off_target": -0.15, "deviation_off_target": 0.45, "judged": 14, "failed": place,
            }
            for place, name in enumerate(names)
            for property_ in ("air_voids", "pb")
        ],
    }  # fmt: skip


def tables(samples: Rows, lots: Rows) -> dict[str, Rows]:
    """Return the rows of the tables that compare; lots in sum are those handed in."""
    projects = sorted({row["project_id"] for row in lots})
    within = {name: [row["within_pct"] for row in lots if row["project_id"] == name] for name in projects}
    return {
        "project_places": _places(samples),
        "lot_figures": [
            {
                "project_id": name, "plan_id": "core-density", "property": "relative_compaction", "point": None,
                "lots": len(each), "lots_within": len(each), "within_mean": sum(each) / len(each),
                "within_least": min(each), "pay_mean": 101.25, "pay_least": 101.25, "reduced": 0, "retests": 0,
                "removals": 0,
            }
            for name, each in within.items()
        ],
        **_laboratories(samples),
        **_split(samples),
        **_plants(samples),
    }  # fmt: skip
