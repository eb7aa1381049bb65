"""What in a specification set contradicts itself or names what does not exist: found before anything is judged."""

import polars as pl

from pipeline.judge.limits import CONDITIONS, grade_matches
from schemas.vocabulary import LimitUse

#: Columns of the frame of faults.
FAULTS = ("set_id", "subject", "fault")

#: Measures of pay equations that need limits, and those that need a target.
_OVER_LIMITS = ("pwl", "pd")


def faults(
    limits: pl.DataFrame,
    plans: pl.DataFrame,
    pieces: pl.DataFrame,
    properties: pl.DataFrame,
    flags: pl.Series,
) -> pl.DataFrame:
    """Return the faults of all sets: `set_id`, `subject` (limit or plan), `fault`, sorted.

    Parameters
    ----------
    limits, plans
        Current rows of `specification_limit` and `acceptance_plan`.
    pieces
        Pieces of pay equations: those published (`set_id` null) and those of the sets.
    properties
        `property`, `unit`, `pointed` (whether several values of one sample are told apart by a point).
    flags
        Codes of the validity flags that exist.
    """
    named = limits.rename({"limit_id": "subject"})
    planned = plans.rename({"plan_id": "subject"}).with_columns(unit=pl.lit(None, pl.String))
    shared = ["set_id", "subject", "property", "point", "unit", "lower", "upper", "excluding_flags"]
    both = pl.concat([named.select(shared), planned.select(shared)])
    bounded = pl.concat([named.select(shared), planned.filter(pl.col("target").is_null()).select(shared)])
    found = [
        _of_properties(both, properties),
        _of_flags(both, flags),
        _of_ranges(bounded),
        _of_clips(named),
        _overlapping(named),
        _of_plans(planned, pieces),
    ]
    return pl.concat([each.select(FAULTS) for each in found]).unique().sort("set_id", "subject", "fault")


def _of_properties(rows: pl.DataFrame, properties: pl.DataFrame) -> pl.DataFrame:
    joined = rows.join(properties.rename({"unit": "stored"}).with_columns(known=True), on="property", how="left")
    own = pl.col("stored").fill_null("none")
    return joined.with_columns(
        fault=pl.when(pl.col("known").is_null())
        .then(pl.format("unknown property '{}'; `mixledger methods` lists them", "property"))
        .when(pl.col("unit").is_not_null() & (pl.col("unit") != own))
        .then(
            pl.format(
                "unit '{}' of {} is not the one its results are in, '{}': convert the limit", "unit", "property", own
            )
        )
        .when(pl.col("pointed") & pl.col("point").is_null())
        .then(pl.format("{} needs 'at': the sieve, gyration or pass it is limited at", "property"))
        .when(~pl.col("pointed") & pl.col("point").is_not_null())
        .then(pl.format("{} is one figure per sample: 'at' has no meaning", "property"))
    ).drop_nulls("fault")


def _of_flags(rows: pl.DataFrame, flags: pl.Series) -> pl.DataFrame:
    each = rows.with_columns(flag=pl.col("excluding_flags").str.split(" ")).explode("flag")
    unknown = each.filter(
        pl.col("flag").is_not_null() & (pl.col("flag") != "") & ~pl.col("flag").is_in(flags.to_list())
    )
    return unknown.with_columns(fault=pl.format("unknown flag '{}' in 'excluding'", "flag"))


def _of_ranges(rows: pl.DataFrame) -> pl.DataFrame:
    none = pl.col("lower").is_null() & pl.col("upper").is_null()
    crossed = pl.col("lower") > pl.col("upper")
    return rows.with_columns(
        fault=pl.when(crossed)
        .then(pl.format("lower {} is above upper {}: nothing can pass", "lower", "upper"))
        .when(none)
        .then(pl.lit("neither 'lower' nor 'upper' is given"))
    ).drop_nulls("fault")


def _of_clips(rows: pl.DataFrame) -> pl.DataFrame:
    crossed = rows.filter(pl.col("clip_lower") > pl.col("clip_upper"))
    return crossed.with_columns(fault=pl.format("control points {} and {} are crossed", "clip_lower", "clip_upper"))


def _overlapping(rows: pl.DataFrame) -> pl.DataFrame:
    """Find pairs of limits that hold for one and the same sample and state the same side."""
    use = pl.col("use").fill_null(LimitUse.ACCEPTANCE.value)
    numbered = rows.with_columns(use=use).with_row_index("row")
    same = ["set_id", "property", "point", "material", "use", "average_of"]
    pairs = numbered.join(numbered, on=same, nulls_equal=True, suffix="_2").filter(pl.col("row") < pl.col("row_2"))
    together = pl.lit(value=True)
    for column in CONDITIONS:
        one, two = pl.col(column), pl.col(f"{column}_2")
        alike = grade_matches(one, two) | grade_matches(two, one) if column == "binder_grade" else one == two
        together = together & (one.is_null() | two.is_null() | alike)
    lower = pl.col("lower").is_not_null() & pl.col("lower_2").is_not_null()
    upper = pl.col("upper").is_not_null() & pl.col("upper_2").is_not_null()
    alike = pl.col("basis") == pl.col("basis_2")
    apart = alike & ((pl.col("lower") > pl.col("upper_2")) | (pl.col("lower_2") > pl.col("upper")))
    apart = apart.fill_null(value=False)
    told = pairs.filter(together & (lower | upper | apart)).with_columns(
        word=pl.when(apart).then(pl.lit("contradicts")).otherwise(pl.lit("overlaps"))
    )
    text = "{} limit '{}': both hold for the same samples; keep one, or tell them apart by a condition"
    first = told.with_columns(fault=pl.format(text, "word", "subject_2"))
    second = told.with_columns(fault=pl.format(text, "word", "subject"), subject=pl.col("subject_2"))
    return pl.concat([first.select(FAULTS), second.select(FAULTS)])


def _of_plans(plans: pl.DataFrame, pieces: pl.DataFrame) -> pl.DataFrame:
    known = pieces.select("set_id", "equation", "measure").unique()
    found = []
    for name in ("equation", "one_result", "two_results"):
        asked = plans.filter(pl.col(name).is_not_null()).with_row_index("row")
        joined = asked.join(known, left_on=name, right_on="equation", how="left", suffix="_of")
        own = pl.col("set_id_of").is_null() | (pl.col("set_id_of") == pl.col("set_id"))
        hit = joined.filter(pl.col("measure").is_not_null() & own)
        lost = asked.join(hit, on="row", how="anti")
        found.append(lost.with_columns(fault=pl.format("unknown pay equation '{}'", pl.col(name))))
        bare = pl.col("lower").is_null() & pl.col("upper").is_null()
        wrong = hit.filter(pl.col("measure").is_in(_OVER_LIMITS) & bare)
        found.append(wrong.with_columns(fault=pl.format("pay by '{}' needs limits", pl.col(name))))
    return pl.concat([each.select(FAULTS) for each in found])
