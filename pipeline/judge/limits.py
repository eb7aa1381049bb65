"""Which limit of its specification set applies to which sample, and what it amounts to there."""

import polars as pl

from pipeline.rounding import rounded
from schemas.vocabulary import Basis

#: A null in one of these columns of a limit means: whatever the sample's.
CONDITIONS = ("phase", "nmas_mm", "traffic", "layer", "binder_grade")

#: Decimals to which a limit around a target is stated: what is beyond is noise of adding two numbers.
_EXACT = 10


def grade_matches(limit: pl.Expr, grade: pl.Expr) -> pl.Expr:
    """Return whether a binder grade is the one a limit states, or begins with it (PG 70 holds for PG 70-22)."""
    return (limit == grade) | grade.str.starts_with(limit + "-")


def applicable(samples: pl.DataFrame, limits: pl.DataFrame) -> pl.DataFrame:
    """Pair every sample with the limits that hold for it.

    Parameters
    ----------
    samples
        `sample_id`, `set_id`, `material`, `phase`, `nmas_mm`, `traffic`, `layer`, `binder_grade`, `taken_on`,
        `mix_id`, `revision`.
    limits
        Current rows of `specification_limit`.

    Returns
    -------
    One row per sample and limit: the sample's columns and the limit's.
    """
    paired = samples.join(
        limits.rename({column: f"limit_{column}" for column in CONDITIONS}), on=["set_id", "material"], how="inner"
    )
    holds = pl.col("valid_from").is_null() | (pl.col("valid_from") <= pl.col("taken_on"))
    for column in CONDITIONS:
        limit, own = pl.col(f"limit_{column}"), pl.col(column)
        same = grade_matches(limit, own) if column == "binder_grade" else limit == own
        holds = holds & (limit.is_null() | same)
    return paired.filter(holds)


def targets(mix_design: pl.DataFrame, mix_gradation: pl.DataFrame, columns: dict[str, str]) -> pl.DataFrame:
    """Return the targets of every mix revision, long.

    Parameters
    ----------
    mix_design, mix_gradation
        Current rows.
    columns
        Property -> column of `mix_design` that holds its target.

    Returns
    -------
    `mix_id`, `revision`, `property`, `at`, `target`.
    """
    keys = ["mix_id", "revision"]
    present = {name: column for name, column in columns.items() if column in mix_design.columns}
    design = (
        mix_design.select(*keys, *(pl.col(column).cast(pl.Float64).alias(name) for name, column in present.items()))
        .unpivot(index=keys, variable_name="property", value_name="target")
        .with_columns(point=pl.lit(None, pl.Float64))
    )
    gradation = mix_gradation.select(
        *keys,
        pl.lit("passing").alias("property"),
        pl.col("passing_pct").alias("target"),
        pl.col("sieve_mm").alias("point"),
    )
    return pl.concat([design, gradation.select(design.columns)]).drop_nulls("target")


def bounds(paired: pl.DataFrame, target: pl.DataFrame) -> pl.DataFrame:
    """Add `target`, turn limits around a target into limits of the value itself, and clip them at control points.

    A limit around a target the mix design lacks keeps null bounds and a null target. Where there are
    `clip_lower` and `clip_upper` the bounds stay between them, as in WSDOT 5-04.3(9).
    """
    joined = paired.join(
        target, on=["mix_id", "revision", "property", "point"], how="left", nulls_equal=True, maintain_order="left"
    )
    around = pl.col("basis") == Basis.FROM_TARGET.value
    sides = [
        pl.when(around).then(rounded(pl.col("target") + pl.col(side), _EXACT)).otherwise(pl.col(side)).alias(side)
        for side in ("lower", "upper")
    ]
    told = joined.with_columns(sides)
    if "clip_lower" not in told.columns:
        return told
    # A bound that is not there stays so: clipping narrows a band, it makes none.
    return told.with_columns(
        lower=pl.when(pl.col("lower").is_not_null()).then(pl.max_horizontal("lower", "clip_lower")),
        upper=pl.when(pl.col("upper").is_not_null()).then(pl.min_horizontal("upper", "clip_upper")),
    )
