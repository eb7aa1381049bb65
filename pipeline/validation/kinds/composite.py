"""A composite pay factor from the percentages of its properties."""

from collections.abc import Iterator

import polars as pl

from pipeline.judge.statistics.pay import composite, pay, published
from pipeline.validation.model import Entry, Finding, compared


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the factor of every property and the composite."""
    frame = pl.DataFrame({"lot": "1", "x": entry["pwl"], "weight": entry["weights"]}, strict=False)
    paid = pay(frame.cast({"x": pl.Float64}).with_columns(equation=pl.lit(entry["equation"])), published())
    for pwl, value, expected in zip(entry["pwl"], paid["pay_value"], entry["factors"], strict=True):
        yield compared(entry, "pay equation", value, expected, 1e-9, subject="factor", inputs=f"PWL {pwl:g}")
    whole = composite(paid, ["lot"]).to_dicts()[0]
    yield compared(entry, "weighted", whole["weights"], 1.0, 1e-9, subject="sum of the weights")
    yield compared(entry, "weighted", whole["composite_pct"] * 0.01, entry["composite"], 1e-9, subject="composite")
