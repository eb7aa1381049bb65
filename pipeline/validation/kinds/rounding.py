"""Rounding by ASTM E29: as text in decimal arithmetic, and as a column."""

from collections.abc import Iterator

import polars as pl

from pipeline.rounding import Rule, round_text, rounded
from pipeline.validation.model import Entry, Finding, Verdict, told


def check(entry: Entry) -> Iterator[Finding]:
    """Yield both ways; where the source prints another figure, it must be recognised as not following."""
    rule, value, decimals = Rule(entry["rule"]), float(entry["value"]), int(entry["decimals"])
    wanted, printed = entry["text"], entry.get("printed")
    as_text = round_text(value, decimals, rule)
    as_column = pl.select(rounded(pl.lit(value), decimals, rule)).item()
    note = f"the source prints {printed}, which does not follow from the rule" if printed else ""
    stated = {
        "id": f"{entry['value']} to {decimals} decimals",
        "subject": "rounding",
        "inputs": f"{entry['value']}, {decimals} decimals, {rule.words}",
        "expected": wanted,
        "why": "rounding is exact",
        "negative": printed is not None,
        "note": note,
    }
    ways = (("decimal arithmetic", as_text, as_text == wanted), ("column", str(as_column), as_column == float(wanted)))
    for way, computed, right in ways:
        recognised = printed is None or float(computed) != float(printed)
        verdict = Verdict.PASS if right and recognised else Verdict.FAIL
        yield told(entry, way, verdict, computed=computed, **stated)
