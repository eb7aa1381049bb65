"""Tables of the cross-project summary: projects, laboratories and plants side by side; computed here, shown there."""

from collections.abc import Mapping

import polars as pl
from duckdb import DuckDBPyConnection

from plugins.renderers.verbs.tables import TREND
from warehouse.sql import fetch

#: Latest split samples of two laboratories that are listed.
_PAIRS = 60
#: What split samples are compared by (common practice).
_SPLIT_COMPARED = ("gmb", "gmm", "air_voids", "pb")
#: What laboratories and plants are compared by: how far it lies from the target of the design, so only what designs
#: state a target of (common practice). Gmb is none of these: its target would follow from the others.
_COMPARED = ("air_voids", "vma", "pb", "gmm")
_CELL = ["project_id", "property", "point"]
_RESULT = ["sample_id", "property", "point"]
#: Verdict -> weight where one result has several limits: the worst is shown.
_WEIGHT = {"fail": 0, "not_judged": 1, "pass": 2}

#: Queries of the summary; they name no project, since the page shows all of them.
_QUERIES = {
    # Each lot counts once: tonnages of the register are running totals, no weights.
    "lot_figures": """
        select project_id, plan_id, property, point, count(*) as lots, count(within_pct) as lots_within,
               avg(within_pct) as within_mean, min(within_pct) as within_least, avg(pay_pct) as pay_mean,
               min(pay_pct) as pay_least, count(*) filter (pay_pct < 100) as reduced,
               count(*) filter (retest) as retests, count(*) filter (removal) as removals
        from lots group by all order by all""",
    "laboratories": """
        with duplicates as (
            select s.laboratory_id, count(*) as n, count(*) filter (c.verdict = 'fail') as beyond
            from comparisons c join sample s on s.sample_id = c.first and s.valid_to_run is null
            where c.kind = 'duplicate' and c.verdict in ('pass', 'fail') group by 1
        ), times as (
            select laboratory_id, count(*) as n, median(days_to_test + days_in_test) as middle,
                   max(days_to_test + days_in_test) as longest
            from turn_round where days_in_test is not null group by 1
        ), taken as (
            select laboratory_id, count(*) as n, max(taken_on) as last_on from sample
            where valid_to_run is null group by 1
        )
        select l.laboratory_id, l.laboratory_name, l.region, coalesce(taken.n, 0) as samples, taken.last_on,
               times.n as timed, times.middle as days_median, times.longest as days_longest,
               coalesce(duplicates.n, 0) as duplicates, coalesce(duplicates.beyond, 0) as duplicates_beyond
        from laboratory l
        left join taken using (laboratory_id) left join times using (laboratory_id)
        left join duplicates using (laboratory_id)
        where l.valid_to_run is null order by l.laboratory_id""",
    "laboratory_figures": """
        select laboratory_id, year, property, point, samples, doubtful, mean_off_target, deviation_off_target,
               repeatability, specimens
        from laboratory_comparison
        where property in ({compared}) and year = (select max(year(taken_on)) from sample where valid_to_run is null)
        qualify count(mean_off_target) over (partition by property, point) > 0
        order by all""",
    "laboratory_bias": """
        select first, second, property, point, n_1 as pairs, difference, s_1 as deviation, t_p as chance,
               significance, verdict, reason
        from comparisons where kind = 'bias' and period is null and property in ({split_compared}) order by all""",
    "split_pairs": f"""
        select a.laboratory_id as first, b.laboratory_id as second, c.first as sample_id, c.second as other_id,
               a.taken_on
        from (select distinct first, second from comparisons where kind = 'split') c
        join sample a on a.sample_id = c.first and a.valid_to_run is null
        join sample b on b.sample_id = c.second and b.valid_to_run is null
        qualify row_number() over (partition by a.laboratory_id, b.laboratory_id
                                   order by a.taken_on desc, c.first) <= {_PAIRS}
        order by 1, 2, a.taken_on desc, 3""",
    "plant_figures": """
        select plant, year, property, point, samples, doubtful, mixes, mean_off_target, deviation_off_target, judged,
               failed
        from plant_comparison
        where property in ({compared}) and year = (select max(year(taken_on)) from sample where valid_to_run is null)
        qualify count(mean_off_target) over (partition by property, point) > 0
        order by all""",
    "plants": """
        select plant, count(*) as samples, count(distinct mix_id) as mixes, max(taken_on) as last_on
        from samples where plant is not null and phase = 'production' group by 1 order by 1""",
    # Whose samples, plants and binders a project has: its groups, and the way from laboratory and plant to samples.
    "project_places": """
        select project_id, laboratory_id, plant, binder_grade, count(*) as samples
        from samples where project_id is not null group by all order by all""",
    "last_tested": """
        select project_id, max(last_tested_at)::date as last_tested_on from turn_round group by 1 order by 1""",
    # A file that names no accepted sample is of the laboratory of the other rows in it, where these agree.
    "laboratory_refusals": """
        with owners as (
            select r.export_hash, min(s.laboratory_id) as laboratory_id
            from source_rows r join sample s on s.sample_id = r.sample_id and s.valid_to_run is null
            where r.export_hash in (select export_hash from refusals)
            group by 1 having count(distinct s.laboratory_id) = 1
        )
        select coalesce(s.laboratory_id, o.laboratory_id) as laboratory_id, count(*) as refusals,
               count(distinct r.file_name) as files
        from refusals r
        left join sample s on s.sample_id = r.sample_id and s.valid_to_run is null
        left join owners o on o.export_hash = r.export_hash
        group by 1 order by 1""",
}


def overview(connection: DuckDBPyConnection) -> dict[str, pl.DataFrame]:
    """Return what the summary shows of lots, laboratories and plants."""
    lists = {"compared": _quoted(_COMPARED), "split_compared": _quoted(_SPLIT_COMPARED)}
    return {name: fetch(connection, sql.format(**lists)) for name, sql in _QUERIES.items()}


def _quoted(names: tuple[str, ...]) -> str:
    return ", ".join(f"'{name}'" for name in names)


def results(frames: Mapping[str, pl.DataFrame]) -> pl.DataFrame:
    """Return every sample result of a project with its worst verdict, in time order, and whether it `counts`.

    It counts in means where it has a figure and no limit declined to judge it.
    """
    weight = pl.col("verdict").replace_strict(_WEIGHT, default=len(_WEIGHT), return_dtype=pl.Int64)
    judged = frames["judgements"].select(*_RESULT, "limit_id", "verdict", "lower", "upper")
    ordered = judged.with_columns(weight.alias("weight")).sort("weight", "limit_id", maintain_order=True)
    worst = ordered.unique(_RESULT, keep="first", maintain_order=True).drop("weight", "limit_id")
    owner = frames["samples"].select("sample_id", "project_id", "taken_on").drop_nulls("project_id")
    joined = (
        frames["sample_values"]
        .select(*_RESULT, "value")
        .join(owner, on="sample_id", how="inner")
        .join(worst, on=_RESULT, how="left", nulls_equal=True)
    )
    counts = pl.col("value").is_not_null() & (pl.col("verdict") != "not_judged").fill_null(True)
    return joined.with_columns(counts.alias("counts")).sort(*_CELL, "taken_on", "sample_id", nulls_last=True)


def _figures(results: pl.DataFrame) -> pl.DataFrame:
    figures = pl.col("value").filter(pl.col("counts"))
    return (
        results.group_by(_CELL, maintain_order=True)
        .agg(
            figures.len().cast(pl.Int64).alias("n"),
            figures.mean().alias("mean"),
            figures.std().alias("s"),
            figures.min().alias("least"),
            figures.max().alias("most"),
            *(verdict.sum().cast(pl.Int64).alias(name) for name, verdict in _COUNTED.items()),
            (~pl.col("counts")).sum().cast(pl.Int64).alias("left_out"),
        )
        .with_columns(_failing())
    )


def _limits(results: pl.DataFrame) -> pl.DataFrame:
    """Return the distinct limits of each result: those that judged it, else those that could not.

    A row without either bound says that a limit holds and cannot be told.
    """
    known = pl.col("lower").is_not_null() | pl.col("upper").is_not_null()
    worth = known.cast(pl.Int8) + (known & pl.col("counts")).cast(pl.Int8)
    held = results.filter(pl.col("verdict").is_not_null()).with_columns(worth.alias("worth"))
    best = held.filter(pl.col("worth") == pl.col("worth").max().over(_CELL))
    return best.select(*_CELL, "lower", "upper").unique(maintain_order=True)


def _failing() -> pl.Expr:
    judged = pl.sum_horizontal(*_COUNTED)
    return pl.when(judged > 0).then(100 * pl.col("failed") / judged).alias("failing_pct")


#: Column -> the verdicts it counts; together they are what was judged.
_COUNTED = {
    "passed": pl.col("verdict") == "pass",
    "failed": pl.col("verdict") == "fail",
    "in_doubt": pl.col("verdict").is_in(["conditional_pass", "conditional_fail"]),
}


def _worst(frames: Mapping[str, pl.DataFrame]) -> pl.DataFrame:
    """Return, per project, the result farthest outside its limit.

    Distances of different properties compare as shares of the width between the limits, or of the limit where only
    one is set.
    """
    owner = frames["samples"].select("sample_id", "project_id").drop_nulls("project_id")
    away = (
        pl.when(pl.col("value") > pl.col("upper"))
        .then(pl.col("value") - pl.col("upper"))
        .when(pl.col("value") < pl.col("lower"))
        .then(pl.col("lower") - pl.col("value"))
    )
    width = pl.col("upper") - pl.col("lower")
    scale = pl.when(width > 0).then(width).otherwise(pl.coalesce("upper", "lower").abs())
    failing = frames["judgements"].filter(pl.col("verdict") == "fail").join(owner, on="sample_id", how="inner")
    return (
        failing.with_columns(away.alias("away"))
        .with_columns((pl.col("away") / scale).alias("share"))
        .sort("share", "sample_id", "limit_id", descending=[True, False, False], nulls_last=True)
        .unique("project_id", keep="first", maintain_order=True)
        .select("project_id", *_RESULT, "value", "lower", "upper", "verdict", "away")
        .sort("project_id")
    )


def _totals(frames: Mapping[str, pl.DataFrame]) -> pl.DataFrame:
    """Return, per project, its samples, their first and last day, and its judgements within and outside limits."""
    owner = frames["samples"].select("sample_id", "project_id", "taken_on").drop_nulls("project_id")
    taken = owner.group_by("project_id").agg(
        pl.len().cast(pl.Int64).alias("samples"),
        pl.col("taken_on").min().alias("first_on"),
        pl.col("taken_on").max().alias("last_on"),
    )
    verdicts = frames["judgements"].join(owner, on="sample_id", how="inner")
    counted = verdicts.group_by("project_id").agg(
        verdict.sum().cast(pl.Int64).alias(name) for name, verdict in _COUNTED.items()
    )
    joined = taken.join(counted, on="project_id", how="left")
    if "last_tested" in frames:
        joined = joined.join(frames["last_tested"], on="project_id", how="left")
    days = [name for name in ("last_on", "last_tested_on") if name in joined.columns]
    return joined.with_columns(_failing(), pl.max_horizontal(days).alias("active_on")).sort("project_id")


def projects(frames: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    """Return the figures of every project, from the tables of samples, their results and judgements.

    Parameters
    ----------
    frames
        `samples`, `sample_values`, `judgements` of the renderers' contract, and `last_tested`, if there.

    Returns
    -------
    dict[str, pl.DataFrame]
        `project_figures` (one row per project and result: n, mean, s, least, most, verdicts counted), `project_limits`
        (its distinct limits; without bounds where they cannot be told), `project_trend` (its latest results in time
        order), `project_totals`, `project_worst`.
    """
    found = results(frames)
    counted = found.filter(pl.col("counts"))
    place = pl.int_range(pl.len()).over(_CELL)
    latest = counted.filter(place >= pl.len().cast(pl.Int64).over(_CELL) - TREND)
    return {
        "project_figures": _figures(found),
        "project_limits": _limits(found),
        "project_trend": latest.select(*_CELL, "sample_id", "taken_on", "value", "lower", "upper", "verdict"),
        "project_totals": _totals(frames),
        "project_worst": _worst(frames),
    }
