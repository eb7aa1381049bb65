"""Paired results: the paired t-test, and the least-squares line with its correlation."""

from collections.abc import Iterator

import polars as pl

from pipeline.judge.statistics.comparison import line_through, paired
from pipeline.validation.model import Entry, Finding, compared


def check(entry: Entry) -> Iterator[Finding]:
    """Yield bias, scatter, t, degrees of freedom, whether significant, and the line."""
    pairs = pl.DataFrame({"x": entry["second"], "y": entry["first"]})
    frame = pairs.select(difference=pl.col("y") - pl.col("x"), key=pl.lit(1), alpha=pl.lit(entry["alpha"]))
    told = paired(frame, ["key"]).to_dicts()[0] | pairs.select(**line_through(pl.col("x"), pl.col("y"))).to_dicts()[0]
    told["significant"] = float(told["significant"])
    inputs = f"{pairs.height} pairs"
    for subject in ("mean", "s", "t", "t_df", "significant", "r", "slope", "intercept"):
        yield compared(entry, "paired", told[subject], *entry[subject], subject=subject, inputs=inputs)
