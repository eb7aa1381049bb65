"""Acceptable difference of two results, and the scatter of air voids propagated from the gravities."""

from collections.abc import Iterator

import polars as pl

from pipeline.judge.statistics.comparison import acceptable_difference, sigma_of_voids
from pipeline.validation.model import Entry, Finding, compared


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the standard deviation where it is propagated, and the acceptable difference."""
    if "gravities" in entry:
        sigma = pl.select(sigma_of_voids(*(pl.lit(value) for value in entry["gravities"]))).item()
        inputs = "Gmb {}, Gmm {}, their standard deviations {} and {}".format(*entry["gravities"])
        yield compared(entry, "propagated", sigma, *entry["sigma"], subject="standard deviation", inputs=inputs)
    else:
        sigma, inputs = entry["sigma"], f"standard deviation {entry['sigma']:g}"
    value = pl.select(acceptable_difference(pl.lit(sigma))).item()
    yield compared(entry, "2√2 σ", value, *entry["difference"], subject="acceptable difference", inputs=inputs)
