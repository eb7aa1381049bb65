"""Published percentages defective by quality index, by the closed form."""

from collections.abc import Iterator
from typing import Any

import polars as pl

from pipeline.judge.statistics.quality import percent_defective
from pipeline.validation.model import Entry, Finding, compared


def check(entry: Entry) -> Iterator[Finding]:
    """Yield every point `[Q, PD]` of one column of the table."""
    points = pl.DataFrame(entry["points"], schema={"q": pl.Float64, "published": pl.Float64}, orient="row")
    computed = percent_defective(points, pl.col("q"), pl.lit(entry["n"]))
    for (q, published), value in zip(points.rows(), computed, strict=True):
        given: dict[str, Any] = {"subject": "percent defective", "inputs": f"Q = {q:g}, n = {entry['n']}"}
        if "recomputed" in entry:
            yield compared(entry | {"published": published, "follows": False}, "closed form", value, **given)
        else:
            yield compared(entry, "closed form", value, published, **given)
