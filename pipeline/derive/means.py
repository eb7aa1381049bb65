"""Figures of finer grain -> their mean, with count, standard deviation, flags, and the reason where there is none."""

import polars as pl

from pipeline.derive.ways import mask
from pipeline.formulas.model import Mean
from pipeline.formulas.registry import MASK


def averaged(source: pl.DataFrame, frame: pl.DataFrame, mean: Mean, bits: dict[str, int]) -> pl.DataFrame:
    """Join a mean and its aspects to the frame it belongs to, under the name `<property>@<route>`."""
    name = f"{mean.property.name}@{mean.route}"
    grouped = _grouped(source, mean).with_columns(
        own=mask(((check, tuple(pl.col(each) for each in check.inputs)) for check in mean.checks), bits)
    )
    lost = pl.col("reason").is_not_null() if mean.every else pl.col("n") == 0
    finished = grouped.select(
        *mean.over,
        pl.when(~lost).then("mean").alias(name),
        pl.when(lost).then("reason").alias(f"{name}__why"),
        (pl.coalesce("counted_flags", "all_flags", pl.lit(0, MASK)) | pl.col("own")).alias(f"{name}__flags"),
        pl.col("n").alias(f"{name}__n"),
        pl.col("spread").alias(f"{name}__spread"),
    )
    return frame.join(finished, on=list(mean.over), how="left", maintain_order="left")


def counting(mean: Mean) -> pl.Expr:
    """Return which rows of the source count in a mean."""
    counts = pl.col(mean.of.name).is_not_null()
    wanted = mean.of_material or mean.material
    if wanted is not None:
        counts = counts & (pl.col("material") == wanted.value)
    return counts if mean.counted_by is None else counts & pl.col(mean.counted_by).is_not_null()


def trimmed(values: pl.Expr, mean: Mean) -> pl.Expr:
    """Return sorted lists of values without those a mean drops."""
    if not mean.trimmed_from:
        return values
    count = values.list.len()
    return pl.when(count >= mean.trimmed_from).then(values.list.slice(1, count.cast(pl.Int64) - 2)).otherwise(values)


def _grouped(source: pl.DataFrame, mean: Mean) -> pl.DataFrame:
    of = mean.of.name
    here = pl.col(of).is_not_null() | pl.col(f"{of}__why").is_not_null()
    wanted = mean.of_material or mean.material
    if wanted is not None:
        here = here & (pl.col("material") == wanted.value)
    counts, reason = pl.col(of).is_not_null(), pl.col(f"{of}__why")
    if mean.counted_by is not None:
        counts = counts & pl.col(mean.counted_by).is_not_null()
        reason = pl.coalesce(reason, pl.col(f"{mean.counted_by}__why"))
    # Sorted and averaged as one list: sums split between threads would differ in their last digit from run to run.
    value = pl.col(of).filter("counts").sort()
    # Reasons may be several in one; each is said once.
    reasons = (
        pl.col("reason").filter(~pl.col("counts")).drop_nulls().str.split("; ").explode().unique(maintain_order=True)
    )
    return (
        source.filter(here)
        .with_columns(counts=counts, reason=reason)
        .group_by(mean.over, maintain_order=True)
        .agg(
            value.alias("values"),
            pl.col(f"{of}__flags").filter("counts").bitwise_or().alias("counted_flags"),
            pl.col(f"{of}__flags").bitwise_or().alias("all_flags"),
            reasons.drop_nulls().str.join("; ").replace("", None).alias("reason"),
        )
        .with_columns(values=trimmed(pl.col("values"), mean))
        .with_columns(
            pl.col("values").list.mean().alias("mean"),
            pl.col("values").list.len().cast(pl.Int64).alias("n"),
            pl.col("values").list.std().alias("spread"),
            (pl.col("values").list.max() - pl.col("values").list.min()).alias("range"),
        )
        .drop("values")
    )
