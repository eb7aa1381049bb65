"""One figure of a published wheel-tracking record, against an independent computation from its readings."""

from collections.abc import Iterator

import polars as pl

from pipeline.validation import entries, records
from pipeline.validation.model import Entry, Finding, compared


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the figure; `before` is a reading put in front of the record's."""
    run = next(each for each in entries.load() if each["kind"] == "run" and each["id"] == entry["run"])
    before = entry.get("before")
    passes = ([before[0]] if before else []) + run["wheel_pass"]
    depths = ([before[1]] if before else []) + run["depth_mm"]
    values = records.wheel(passes, depths).filter(pl.col("level") == "specimen")
    (row,) = values.filter(pl.col("property") == entry["property"]).to_dicts()
    inputs = f"{len(passes)} readings of {entry['run']}"
    covers = (f"{entry['property']}/{row['route']}",)
    yield compared(entry, "from records", row["value"], inputs=inputs, covers=covers)
