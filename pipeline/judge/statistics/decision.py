"""One result against one limit: compared as ASTM E29 says, with margin, probability of conformity and guard band.

Sources: ASTM E29-13 section 1.3 (absolute and rounding method); ILAC-G8:09/2019 pp. 8-10; JCGM 106:2012.
"""

import polars as pl

from pipeline.judge.statistics.distributions import column, normal_below
from pipeline.rounding import Rule, round_series
from schemas.vocabulary import DecisionRule, RoundingMethod, Verdict


def compared(frame: pl.DataFrame, rule: Rule) -> pl.DataFrame:
    """Add `compared`: the value that is held against the limit.

    Parameters
    ----------
    frame
        `value` (unrounded), `decimals` (of the limit), `rounding` (`RoundingMethod`).
    """
    rounded = round_series(frame["value"], frame["decimals"], rule)
    absolute = pl.col("rounding") == RoundingMethod.ABSOLUTE.value
    return frame.with_columns(compared=pl.when(absolute).then("value").otherwise(rounded))


def decided(frame: pl.DataFrame) -> pl.DataFrame:
    """Add verdict, margin and probability of conformity.

    Parameters
    ----------
    frame
        `compared`, `lower`, `upper` (null: none), `u` (standard uncertainty, null: unknown), `decision_rule`
        (`DecisionRule`), `guard_factor` (the guard band is so many standard uncertainties wide).

    Returns
    -------
    The frame with `margin` (distance to the nearer limit, negative beyond it), `guard` (width of the guard band),
    `probability` (that the quantity lies within, normal distribution) and `verdict`: null where the rule needs an
    uncertainty and there is none.
    """
    below, above = pl.col("compared") - pl.col("lower"), pl.col("upper") - pl.col("compared")
    simple = pl.col("decision_rule") == DecisionRule.SIMPLE.value
    told = frame.with_columns(
        margin=pl.min_horizontal(below, above),
        guard=pl.when(simple).then(0.0).otherwise(pl.col("guard_factor") * pl.col("u")),
    )
    return told.with_columns(probability=_probability(told), verdict=_verdict())


def _probability(frame: pl.DataFrame) -> pl.Series:
    """Return Φ((upper - y)/u) - Φ((lower - y)/u); a side without limit counts as wholly within."""
    scatter = pl.when(pl.col("u") > 0).then(pl.col("u"))
    up = column(frame, normal_below, (pl.col("upper") - pl.col("compared")) / scatter)
    down = column(frame, normal_below, (pl.col("lower") - pl.col("compared")) / scatter)
    sides = pl.DataFrame({"up": up, "down": down}).hstack(frame.select("lower", "upper", "u", "compared"))
    return sides.select(
        pl.when((pl.col("u") > 0) & pl.col("compared").is_not_null()).then(
            pl.when(pl.col("upper").is_null()).then(1.0).otherwise("up")
            - pl.when(pl.col("lower").is_null()).then(0.0).otherwise("down")
        )
    ).to_series()


def _verdict() -> pl.Expr:
    margin, guard = pl.col("margin"), pl.col("guard")
    inside = margin >= 0
    conditional = pl.col("decision_rule") == DecisionRule.CONDITIONAL.value
    doubtful = (
        pl.when(inside).then(pl.lit(Verdict.CONDITIONAL_PASS.value)).otherwise(pl.lit(Verdict.CONDITIONAL_FAIL.value))
    )
    return (
        pl.when(margin.is_null() | guard.is_null())
        .then(None)
        .when(margin >= guard)
        .then(pl.lit(Verdict.PASS.value))
        .when(conditional & (margin >= -guard))
        .then(doubtful)
        .otherwise(pl.lit(Verdict.FAIL.value))
    )
