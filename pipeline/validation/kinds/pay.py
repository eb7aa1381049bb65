"""Published pay equations at published or recomputed points."""

from collections.abc import Iterator
from typing import Any

import polars as pl

from pipeline.judge.statistics.pay import pay, published
from pipeline.validation.model import Entry, Finding, compared


def check(entry: Entry) -> Iterator[Finding]:
    """Yield every point `[measure, value]` of one equation."""
    points = pl.DataFrame(entry["points"], schema={"x": pl.Float64, "published": pl.Float64}, orient="row")
    paid = pay(points.with_columns(equation=pl.lit(entry["equation"])), published())
    for x, expected, value in paid.select("x", "published", "pay_value").rows():
        given: dict[str, Any] = {"subject": f"pay by {entry['equation']}", "inputs": f"{x:g}"}
        yield compared(entry, "pay equation", value, expected, 1e-9, **given)
