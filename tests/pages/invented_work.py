"""Invented work list, arrivals, lapsed calibrations and drift, to go with the invented samples."""

import datetime as dt
from typing import Any

_DAY = dt.date(2026, 5, 14)


def _work(samples: list[dict[str, Any]], missing: list[dict[str, Any]]) -> list[dict[str, Any]]:
    register = {row["sample_id"]: row for row in samples}
    rows = []
    for place, item in enumerate(missing):
        sample = register[item["sample_id"]]
        due = _DAY + dt.timedelta(days=place % 7 - 3)
        rows.append(
            {
                "state": "late" if due < _DAY else "due",
                "kind": "overdue",
                **{key: sample[key] for key in ("project_id", "mix_id", "lot", "sample_id")},
                "since": sample["taken_on"],
                "due_on": due,
                "sentence": f"{item['sample_id']} owes {item['property']}",
                "remedy": "Finish the tests; the agreed day stands beside.",
            }
        )
    for kind, sample in zip(("missing", "in_doubt", "retest", "stop"), samples, strict=False):
        rows.append(
            {
                "state": "open",
                "kind": kind,
                **{key: sample[key] for key in ("project_id", "mix_id", "lot", "sample_id")},
                "since": sample["taken_on"],
                "sentence": f"{kind} of {sample['sample_id']}",
                "remedy": "Look for the cause.",
            }
        )
    balance = {"state": "due", "kind": "calibration", "due_on": _DAY + dt.timedelta(days=20)}
    return [*rows, {**balance, "sentence": "the calibration of QL-2 ends", "remedy": "Calibrate it."}]


def _drift() -> list[dict[str, Any]]:
    return [
        {
            "instrument_id": name,
            "kind": "balance",
            "laboratory_id": "QL",
            "record": "weighing",
            "quarter": dt.date(2025, 1 + 3 * quarter, 1),
            "property": "gmb",
            "specimens": 30,
            "mixes": 4,
            "mean_off_mix": step * quarter,
            "deviation_off_mix": 0.012,
            "shift": step * quarter / (0.012 / 30**0.5),
        }
        for name, step in (("QL-2", 0.004), ("QL-3", -0.0001))
        for quarter in range(4)
    ]


def tables(samples: list[dict[str, Any]], missing: list[dict[str, Any]]) -> dict[str, list[dict[str, Any]]]:
    """Return the rows of work, arrivals, lapsed and drift."""
    return {
        "work": _work(samples, missing),
        "arrivals": [
            {
                "importer": importer,
                "month": dt.date(2026, month, 1),
                "exports": 20 + month,
                "duplicates": 1,
                "refused_exports": month % 2,
                "partly_exports": 2,
                "rows_accepted": 1000 * month,
                "rows_refused": 3,
                "refusals_standing": 1,
                "rows_superseded": 4,
            }
            for month in (5, 4)
            for importer in ("press", "balance_journal", None)
        ],
        "lapsed": [
            {
                "instrument_id": "QL-2",
                "kind": "balance",
                "laboratory_id": "QL",
                "last_due_on": dt.date(2026, 3, 1),
                "sample_id": sample["sample_id"],
                "tested_on": sample["taken_on"],
                "specimens": 3,
            }
            for sample in samples[:14]
        ],
        "drift": _drift(),
    }
