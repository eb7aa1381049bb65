"""Standard uncertainty of a derived figure: by hand from given ones, and from records by the declared contributions."""

from collections.abc import Iterator
from typing import Any

import polars as pl

from pipeline.compute import compute
from pipeline.validation.model import Entry, Finding, compared, text
from pipeline.validation.records import derived


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the uncertainty by hand where uncertainties are given, else by the declared contributions."""
    given: dict[str, Any] = {"subject": f"u({entry['property']})", "inputs": text(entry["inputs"])}
    if "uncertainties" in entry:
        done = compute(entry["property"], entry["inputs"], uncertainties=entry["uncertainties"])
        given["inputs"] += f"; u {text(entry['uncertainties'])}"
        yield compared(entry, "by hand", done.uncertainty or 0.0, **given)
        return
    result = derived(entry["property"], entry["inputs"])
    if result is None:
        raise ValueError("the inputs can neither be weighed nor registered")
    rows = result.property_values.filter(pl.col("property") == entry["property"], pl.col("level") == "specimen")
    yield compared(entry, "from records", rows["uncertainty"].item(), **given)
