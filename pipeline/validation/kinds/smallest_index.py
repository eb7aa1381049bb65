"""Published smallest quality indices for whole percentages within limits, by the inverse of the closed form."""

from collections.abc import Iterator
from typing import Any

import polars as pl

from pipeline.judge.statistics.quality import index_of
from pipeline.validation.model import Entry, Finding, compared


def check(entry: Entry) -> Iterator[Finding]:
    """Yield every point `[PWL, Q]` of one column of the table, for the fewest results the column stands for."""
    points = pl.DataFrame(entry["points"], schema={"pwl": pl.Float64, "published": pl.Float64}, orient="row")
    asked = points.select("pwl", n=pl.lit(entry["n"]))
    for (pwl, published), value in zip(points.rows(), index_of(asked, entry["decimals"]), strict=True):
        given: dict[str, Any] = {"subject": "smallest quality index", "inputs": f"PWL = {pwl:g}, n = {entry['n']}"}
        if "recomputed" in entry:
            yield compared(entry | {"published": published, "follows": False}, "inverse", value, **given)
        else:
            yield compared(entry, "inverse", value, published, **given)
