"""Control charts of production: the series of each mix and property, published limits, and the first signal."""

import polars as pl

from pipeline.judge.limits import applicable, bounds
from pipeline.judge.single import Contract
from pipeline.judge.statistics.control import SPAN, charted
from schemas.vocabulary import LimitUse, Material, Phase

_SERIES = ["project_id", "mix_id", "property", "point"]
_KEY = [*_SERIES, "sample_id"]


def charts(samples: pl.DataFrame, values: pl.DataFrame, contract: Contract, target: pl.DataFrame) -> pl.DataFrame:
    """Return the chart points of all production results of these mixes that a limit is stated for.

    Parameters
    ----------
    samples, values, contract, target
        As in `lots`; one half of a split sample is left out.

    Returns
    -------
    Rows of `chart_point` without validity, in the order in which the samples were taken.
    """
    taken = samples.filter(
        pl.col("phase") == Phase.PRODUCTION.value,
        pl.col("material") == Material.MIX.value,
        pl.col("split_of").is_null(),
    )
    limits = applicable(taken, contract.limits)
    figures = values.filter(pl.col("level") == "sample", pl.col("value").is_not_null())
    charted_values = (
        limits.select("sample_id", "project_id", "mix_id", "revision", "taken_on", "property", "point")
        .unique()
        .join(
            figures.select("sample_id", "property", "point", "value"),
            on=["sample_id", "property", "point"],
            nulls_equal=True,
        )
        .join(target, on=["mix_id", "revision", "property", "point"], how="left", nulls_equal=True)
    )
    runs = contract.sets.select("set_id", run_of=pl.col("run_of").fill_null(8))
    of_sets = taken.select("mix_id", "project_id", "set_id").unique(["project_id", "mix_id"], keep="last")
    rules = of_sets.join(runs, on="set_id", how="left").select("project_id", "mix_id", pl.col("run_of").fill_null(8))
    ordered = (
        charted_values.join(rules, on=["project_id", "mix_id"], how="left")
        .sort(*_SERIES, "taken_on", "sample_id")
        .with_columns(
            series=pl.concat_str(*(pl.col(name).cast(pl.String).fill_null("") for name in _SERIES), separator="\x1f"),
        )
        .with_columns(place_no=pl.int_range(1, pl.len() + 1).over("series").cast(pl.Int64))
    )
    parts = [
        charted(part, "series", "place_no", run_of=run_of)
        for (run_of,), part in ordered.partition_by("run_of", as_dict=True).items()
    ]
    points = pl.concat(parts) if parts else charted(ordered, "series", "place_no")
    return _first(points.join(_beyond(points, limits, target), on=_KEY, how="left", nulls_equal=True))


def _beyond(points: pl.DataFrame, limits: pl.DataFrame, target: pl.DataFrame) -> pl.DataFrame:
    """Return `published`: which published limits a result, or the mean of the last four, lies beyond."""
    published = limits.filter(pl.col("use").is_in([LimitUse.ACTION.value, LimitUse.SUSPENSION.value]))
    held = bounds(published, target).join(
        points.select(*_KEY, "value", "moving_average"), on=_KEY, how="inner", nulls_equal=True
    )
    averaged = pl.col("average_of").is_not_null()
    figure = pl.when(averaged).then(pl.when(pl.col("average_of") == SPAN).then("moving_average")).otherwise("value")
    out = (figure < pl.col("lower")).fill_null(value=False) | (figure > pl.col("upper")).fill_null(value=False)
    name = pl.when(averaged).then(pl.format("{}_of_{}", "use", "average_of")).otherwise("use")
    return held.filter(out).group_by(_KEY).agg(name.unique().sort().str.join(" ").alias("published"))


def _first(points: pl.DataFrame) -> pl.DataFrame:
    signalled = pl.col("signals").is_not_null() | pl.col("published").is_not_null()
    place = pl.when(signalled).then("place_no").min().over("series")
    return points.with_columns(first_signal=signalled & (pl.col("place_no") == place)).sort(*_SERIES, "place_no")
