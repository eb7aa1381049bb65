"""Scales of trends: the reach of values and limits, shared by the cells of a group so that they compare."""

import polars as pl

#: Share of the values left out at each end when the scale is set: a single blunder must not squeeze the others.
_TAIL = 0.01


def scales(values: pl.DataFrame, by: list[str]) -> pl.DataFrame:
    """Return one scale per group, over its values and limits: columns `by`, low, high.

    Parameters
    ----------
    values
        Columns `by`, value, lower, upper. The scale is shared by all cells of a group, so that they compare.
    """
    reach = values.group_by(by, maintain_order=True).agg(
        pl.min_horizontal(pl.col("value").quantile(_TAIL, "lower"), pl.col("lower").min(), pl.col("upper").min()).alias(
            "low"
        ),
        pl.max_horizontal(
            pl.col("value").quantile(1 - _TAIL, "higher"), pl.col("lower").max(), pl.col("upper").max()
        ).alias("high"),
    )
    span = pl.col("high") - pl.col("low")
    pad = pl.when(span > 0).then(span * 0.06).otherwise(pl.max_horizontal(pl.col("high").abs() * 0.05, 0.05))
    return reach.with_columns((pl.col("low") - pad).alias("low"), (pl.col("high") + pad).alias("high"))
