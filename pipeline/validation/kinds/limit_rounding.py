"""A result at a limit by the two methods of ASTM E29."""

from collections.abc import Iterator
from typing import Any

import polars as pl

from pipeline.judge.statistics.decision import compared, decided
from pipeline.rounding import Rule
from pipeline.validation.model import Entry, Finding, Verdict, told


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the verdict by one method and one rule of rounding."""
    frame = pl.DataFrame({"value": [entry["value"]], "decimals": [entry["decimals"]], "rounding": [entry["method"]]})
    sides = {side: pl.lit(entry.get(side), pl.Float64) for side in ("lower", "upper")}
    none = {"u": pl.lit(None, pl.Float64), "decision_rule": pl.lit("simple"), "guard_factor": pl.lit(0.0)}
    verdict = decided(compared(frame, Rule(entry["rule"])).with_columns(**sides, **none))["verdict"][0]
    right = Verdict.PASS if verdict == entry["verdict"] else Verdict.FAIL
    inputs = f"{entry['value']:g} against {entry.get('upper')}, {entry['method']}, {entry['rule']}"
    stated: dict[str, Any] = {
        "subject": "verdict at a limit",
        "inputs": inputs,
        "expected": entry["verdict"],
        "computed": verdict,
    }
    yield told(entry, "ASTM E29", right, **stated)
