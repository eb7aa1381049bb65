"""Density of water at a temperature over that at 25 °C."""

from collections.abc import Iterator

import polars as pl

from pipeline.formulas.water import ratio_to_25
from pipeline.validation.model import Entry, Finding, compared


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the ratio."""
    ratio = pl.select(ratio_to_25(pl.lit(entry["temperature"]))).item()
    yield compared(entry, "equation", ratio, subject="R", inputs=f"{entry['temperature']:g} °C")
