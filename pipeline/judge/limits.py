"""Which limit of its project's specification set applies to which sample, and what it amounts to there."""

import polars as pl

from schemas.vocabulary import Basis

#: A null in one of these columns of a limit means: whatever the sample's.
_CONDITIONS = {"phase": "phase", "nmas_mm": "nmas_mm"}


def applicable(samples: pl.DataFrame, limits: pl.DataFrame) -> pl.DataFrame:
    """Pair every sample with the limits that hold for it.

    Parameters
    ----------
    samples
        `sample_id`, `set_id`, `material`, `phase`, `nmas_mm`, `taken_on`, `mix_id`, `revision`.
    limits
        Current rows of `specification_limit`.

    Returns
    -------
    One row per sample and limit: the sample's columns and the limit's.
    """
    renamed = limits.rename({"phase": "limit_phase", "nmas_mm": "limit_nmas_mm"})
    paired = samples.join(renamed, on=["set_id", "material"], how="inner")
    holds = pl.col("valid_from").is_null() | (pl.col("valid_from") <= pl.col("taken_on"))
    for column in _CONDITIONS:
        limit = pl.col(f"limit_{column}")
        holds = holds & (limit.is_null() | (limit == pl.col(column)))
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
    """Add `target` and turn limits around a target into limits of the value itself.

    A limit around a target the mix design lacks keeps null bounds and a null target.
    """
    joined = paired.join(target, on=["mix_id", "revision", "property", "point"], how="left", nulls_equal=True)
    around = pl.col("basis") == Basis.FROM_TARGET.value
    return joined.with_columns(
        pl.when(around).then(pl.col("target") + pl.col(side)).otherwise(pl.col(side)).alias(side)
        for side in ("lower", "upper")
    )
