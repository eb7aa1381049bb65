"""Published control charts: limits of individuals and ranges, moving averages, EWMA."""

from collections.abc import Iterator

import polars as pl

from pipeline.judge.statistics.control import EWMA_WIDTH, charted
from pipeline.validation.model import Entry, Finding, compared


def check(entry: Entry) -> Iterator[Finding]:
    """Yield each figure the entry states: `[expected, tolerance]`, or `[[expected …], tolerance]` for a series."""
    series = pl.DataFrame({"key": 1, "order": range(len(entry["values"])), "value": entry["values"]})
    told = charted(series.with_columns(target=pl.lit(entry.get("target"), pl.Float64)), "key", "order")
    inputs = f"{series.height} results"
    if "sigma" in entry:
        wide = entry["sigma"] * EWMA_WIDTH
        told = told.with_columns(ewma_lower=entry["target"] - wide, ewma_upper=entry["target"] + wide)
    for name in sorted(set(told.columns) & set(entry) - {"target", "sigma"}):
        expected, tolerance = entry[name] if name not in ("values", "value") else (None, None)
        if isinstance(expected, list):
            found = told[name].drop_nulls()
            for number, (value, each) in enumerate(zip(found, expected, strict=True), start=1):
                yield compared(entry, f"result {number}", value, each, tolerance, subject=name, inputs=inputs)
        elif expected is not None:
            yield compared(entry, "chart", told[name][0], expected, tolerance, subject=name, inputs=inputs)
    for name, printed, recomputed, tolerance in entry.get("misprints", ()):
        stated = entry | {"published": printed, "follows": False, "recomputed": recomputed, "tolerance": tolerance}
        yield compared(stated, "chart", told[name][0], subject=name, inputs=inputs)
