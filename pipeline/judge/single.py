"""Single results against their limits: pass, fail, or not judged with the reason."""

from collections.abc import Callable, Mapping
from types import MappingProxyType

import polars as pl

from pipeline.judge.limits import applicable, bounds
from schemas.vocabulary import Basis, Verdict

#: Puts reported values in place of unrounded ones; the rule is the caller's.
Rounding = Callable[[pl.DataFrame], pl.DataFrame]


def judge(
    samples: pl.DataFrame,
    values: pl.DataFrame,
    limits: pl.DataFrame,
    target: pl.DataFrame,
    rounding: Rounding,
    stand_ins: Mapping[str, str] = MappingProxyType({}),
) -> pl.DataFrame:
    """Judge sample results against the specification set of their project.

    The value is rounded to the reporting decimals of its property before it is compared (ASTM E29, rounding
    method): the figure that is judged is the figure that is reported.

    Parameters
    ----------
    samples
        As in `limits.applicable`.
    values
        Sample-level property values: `sample_id`, `property`, `at`, `value`, `withheld`, `flags`.
    limits
        Current rows of `specification_limit`.
    target
        As from `limits.targets`.
    rounding
        Adds to rows with `property`, `at` and `value` the value as reported, in place of the unrounded one.

    stand_ins
        Flag -> property of figures that stand in for a test that was not made: they are never judged.

    Returns
    -------
    Rows of `judgement` without validity: one per sample and limit that has a result or requires one.
    """
    paired = bounds(applicable(samples, limits), target)
    joined = paired.join(values, on=["sample_id", "property", "point"], how="left", nulls_equal=True)
    wanted = joined.filter(pl.col("value").is_not_null() | pl.col("required"))
    return (
        rounding(wanted)
        .with_columns(reason=_reason(stand_ins))
        .select(
            "sample_id",
            "set_id",
            "limit_id",
            "property",
            "point",
            "value",
            "lower",
            "upper",
            _verdict().alias("verdict"),
            "reason",
            "flags",
        )
    )


def _reason(stand_ins: Mapping[str, str]) -> pl.Expr:
    # Figures that rest on a stand-in inherit its flag; they are doubtful, but results.
    stands_in = [(pl.col("property") == name) & _codes("flags").list.contains(code) for code, name in stand_ins.items()]
    no_test = pl.any_horizontal(pl.lit(False), *stands_in)
    no_target = (pl.col("basis") == Basis.FROM_TARGET.value) & pl.col("target").is_null()
    excluded = _codes("flags").list.set_intersection(_codes("excluding_flags"))
    return (
        pl.when(pl.col("value").is_null())
        .then(pl.coalesce("withheld", pl.lit("no result: the test is missing")))
        .when(no_test)
        .then(pl.lit("no result: the figure stands in for a test that was not made"))
        .when(no_target)
        .then(pl.format("no target for {} in mix design {} revision {}", "property", "mix_id", "revision"))
        .when(excluded.list.len() > 0)
        .then(pl.format("excluded by the specification set: {}", excluded.list.join(", ")))
        .otherwise(None)
    )


def _codes(column: str) -> pl.Expr:
    return pl.col(column).fill_null("").str.split(" ").list.filter(pl.element() != "")


def _verdict() -> pl.Expr:
    below = (pl.col("value") < pl.col("lower")).fill_null(False)
    above = (pl.col("value") > pl.col("upper")).fill_null(False)
    return (
        pl.when(pl.col("reason").is_not_null())
        .then(pl.lit(Verdict.NOT_JUDGED.value))
        .when(below | above)
        .then(pl.lit(Verdict.FAIL.value))
        .otherwise(pl.lit(Verdict.PASS.value))
    )
