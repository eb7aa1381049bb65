"""Series of wheel runs in a frame -> fits per run, each figure with the reason where it is missing."""

from collections.abc import Callable, Mapping

import numpy as np
import polars as pl

from pipeline.tracking.groups import Floats, Found, collected

_KEYS = ["sample_id", "specimen_no"]


def fitted(
    series: pl.DataFrame,
    fit: Callable[[Floats, Floats], Found],
    names: tuple[str, ...],
    figures: Mapping[str, tuple[str, str]],
) -> pl.DataFrame:
    """Fit all runs of a frame at once.

    Parameters
    ----------
    series
        `sample_id`, `specimen_no`, `wheel_pass`, `recorded` (mm), sorted.
    fit, names
        As for `groups.collected`.
    figures
        Figure -> (name in the fit, name of its reasons in the fit).

    Returns
    -------
    polars.DataFrame
        Keys, every figure and its `<figure>__why`; one row per run with readings.
    """
    runs = series.with_row_index("at").filter(_begins()).select(*_KEYS, "at")
    counts = np.diff(np.append(runs["at"].to_numpy(), series.height)).astype(np.int64)
    passes = series["wheel_pass"].cast(pl.Int64).to_numpy()
    found = collected(counts, passes, series["recorded"].to_numpy(), fit, names, {why for _, why in figures.values()})
    columns: dict[str, object] = {}
    for figure, (name, why) in figures.items():
        columns[figure] = found[name]
        columns[f"{figure}__why"] = found[why].astype(str)
    frame = pl.DataFrame(columns, schema_overrides={name: pl.String for name in columns if name.endswith("__why")})
    return runs.select(_KEYS).hstack(frame).with_columns(_told(figures))


def _begins() -> pl.Expr:
    """Tell the first reading of each run."""
    return pl.any_horizontal(pl.col(key).ne_missing(pl.col(key).shift()) for key in _KEYS) | (
        pl.int_range(pl.len()) == 0
    )


def wheel_of(specimen_no: str = "specimen_no") -> pl.Expr:
    """Return which wheel a run is, in words; its name ends with the side."""
    return pl.col(specimen_no).str.split(" ").list.last() + " wheel: "


def _told(figures: Mapping[str, tuple[str, str]]) -> list[pl.Expr]:
    told = []
    for figure in figures:
        why = pl.col(f"{figure}__why")
        told.append(pl.when((why == "") & pl.col(figure).is_finite()).then(pl.col(figure)).alias(figure))
        told.append(pl.when(why != "").then(wheel_of() + why).alias(f"{figure}__why"))
    return told
