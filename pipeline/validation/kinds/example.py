"""A worked example: one property by hand, and from records where its inputs can be weighed or registered."""

from collections.abc import Iterator

import polars as pl

from pipeline.compute import compute
from pipeline.derive import Derived
from pipeline.formulas import registry
from pipeline.validation.model import Entry, Finding, Verdict, compared, told
from pipeline.validation.records import derived
from schemas.vocabulary import Level


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the figure by hand, and through the whole derivation."""
    yield by_hand(entry)
    if not entry.get("by_hand"):
        result = derived(entry["property"], entry["inputs"], entry.get("settings"))
        if result is not None:
            yield from_records(entry, result)


def by_hand(entry: Entry) -> Finding:
    """Compute as `mixledger compute` does; where the entry states flags, they must be these and no others."""
    done = compute(entry["property"], entry["inputs"])
    found = compared(entry, "by hand", done.value, covers=(f"{done.property}/{done.route}",))
    stated = entry.get("flags")
    if stated is not None and list(done.codes) != stated:
        note = f"flags {' '.join(done.codes) or 'none'}, expected {' '.join(stated) or 'none'}"
        return told(entry, "by hand", Verdict.FAIL, note=note, computed=found.computed, expected=found.expected)
    return found


def from_records(entry: Entry, result: Derived) -> Finding:
    """Take the figure of the sample, or of the specimen where the sample has none."""
    values = result.property_values.filter(pl.col("property") == entry["property"])
    named = values.filter(pl.col("sample_id") == "C1")
    if not named.is_empty():
        values = named
    sample = values.filter(pl.col("level") == Level.SAMPLE.value)
    rows = (sample if not sample.is_empty() else values).to_dicts()
    if len(rows) != 1 or rows[0]["value"] is None:
        reason = rows[0]["withheld"] if rows else "no figure"
        return told(entry, "from records", Verdict.FAIL, note=f"{len(rows)} figures: {reason}")
    (row,) = rows
    routes = {f"{name}/{route}" for name, route in values.select("property", "route").iter_rows()}
    formulas = {f"{each.property.name}/{each.route}" for each in registry.load().formulas}
    found = compared(entry, "from records", row["value"], covers=tuple(sorted(routes & formulas)))
    lacking = set(entry.get("flags", [])) - set((row["flags"] or "").split())
    if lacking:
        return told(entry, "from records", Verdict.FAIL, note=f"not flagged: {' '.join(sorted(lacking))}")
    return found
