"""Critical points of F, t, and of the test for a single outlier."""

from collections.abc import Iterator
from typing import Any

import polars as pl

from pipeline.judge.statistics.distributions import column, f_point, t_point
from pipeline.judge.statistics.outliers import critical_t
from pipeline.validation.model import Entry, Finding, compared


def check(entry: Entry) -> Iterator[Finding]:
    """Yield every point: `[df, df, F]`, `[df, t]` or `[n, T]`; the share is the one above the point."""
    *names, last = {"F": ("a", "b", "value"), "t": ("a", "value"), "T": ("n", "value")}[entry["of"]]
    points = pl.DataFrame(entry["points"], schema=dict.fromkeys((*names, last), pl.Float64), orient="row")
    share = pl.lit(entry["share"])
    if entry["of"] == "F":
        values = column(points, f_point, share, pl.col("a"), pl.col("b"))
    elif entry["of"] == "t":
        values = column(points, t_point, share, pl.col("a"))
    else:
        values = critical_t(points, share, two_sided=False)
    for row, value in zip(points.rows(), values, strict=True):
        inputs = f"{entry['share']:g} above, {', '.join(f'{each:g}' for each in row[:-1])}"
        given: dict[str, Any] = {"subject": entry["of"], "inputs": inputs}
        if "recomputed" in entry:
            yield compared(entry | {"published": row[-1], "follows": False}, "inverse", value, **given)
        else:
            yield compared(entry, "inverse", value, row[-1], **given)
