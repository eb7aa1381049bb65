"""Invented tables only reports need, to go with the invented samples: two reports, one of them amended."""

import datetime as dt
from typing import Any

import polars as pl

from plugins.renderers.verbs.tables import TABLES

_AT = dt.datetime(2026, 5, 14, 9, 30)
_DAY = dt.date(2026, 5, 3)


def tables(samples: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """Return chain, sample_instruments, specifications, reports, report_chain and report_changes."""
    first, second = samples["sample_id"].head(2).to_list()
    number = f"{first}-2"
    rows: dict[str, list[dict[str, Any]]] = {
        "chain": [{"sample_id": first, "arrived_at": _AT, "first_tested_at": _AT, "last_tested_at": _AT}],
        "sample_instruments": [
            {
                "sample_id": first, "instrument_id": f"QL-{place}", "kind": "balance", "method": "t166",
                "first_on": _DAY, "last_on": _DAY + dt.timedelta(days=place), "readings": 12,
                "calibrated_on": _DAY, "due_on": _DAY, "state": state,
            }
            for place, state in enumerate(("covered", "lapsed", "unknown"))
        ],
        "specifications": [
            {
                "set_id": "example", "title": "Example set", "set_version": "2026", "agency": "Invented roads agency",
                "valid_from": _DAY, "guard_factor": 1.0, "rounding": "absolute",
            }
        ],
        "reports": [
            {
                "report_no": number, "sample_id": first, "issue_no": 2, "issued_at": _AT, "figures_run": 12,
                "figures_at": _AT, "replaces": f"{first}-1", "reason": "moisture corrected", "remark": "Read twice.",
            },
            {"report_no": f"{second}-1", "sample_id": second, "as_of": "run 12"},
        ],
        "report_chain": [
            {"sample_id": first, "report_no": f"{first}-1", "issue_no": 1, "issued_at": _AT, "reason": "first issue"}
        ],
        "report_changes": [
            {"report_no": number, "part": "result", "item": item, "field": field, "before": "4.1", "why": "new reading"}
            for item, field in (
                ("plant", None), ("sample", "figure"), ("sample", "rule"), ("sample", "source"), ("sample", "until"),
                ("sample", "used"), ("sample", "reason"), ("sample", "concerns"),
            )
        ],
    }  # fmt: skip
    return {
        name: pl.DataFrame(made, schema_overrides=dict(TABLES[name]), infer_schema_length=None)
        for name, made in rows.items()
    }
