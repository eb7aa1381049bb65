"""Queries of the tables of work, quality, mixes and lots that renderers receive: computed in SQL, only shown there."""

from collections.abc import Mapping
from datetime import date

import polars as pl
from duckdb import DuckDBPyConnection

from pipeline import overview_tables
from pipeline.derive.wheel import counted_depth
from pipeline.settings import Results
from pipeline.work_list import on_day
from plugins.api import Scope
from plugins.renderers.verbs.tables import CURVE_POINTS, MIX_SAMPLES
from schemas.vocabulary import CompositeRule
from warehouse.sql import fetch

#: What the data-quality page looks back on, counted from the last sample taken.
_YEARS = 2

QUALITY = {
    "arrivals": "select * from data_quality order by month desc, importer",
    "lapsed": """
        select o.instrument_id, i.kind, i.laboratory_id, o.last_due_on, o.sample_id, min(o.tested_on) as tested_on,
               count(*) as specimens
        from out_of_calibration o
        left join instrument i on i.instrument_id = o.instrument_id and i.valid_to_run is null
        group by all order by o.instrument_id, o.last_due_on, min(o.tested_on), o.sample_id""",
    # How far a quarter lies off, in standard errors of its own mean; nothing to tell by below four specimens.
    "drift": f"""
        select d.instrument_id, i.kind, i.laboratory_id, d.record, d.quarter, d.property, d.point, d.specimens, d.mixes,
               d.mean_off_mix, d.deviation_off_mix,
               case when d.specimens >= 4
                    then d.mean_off_mix / nullif(d.deviation_off_mix / sqrt(d.specimens), 0) end as shift
        from instrument_drift d
        left join instrument i on i.instrument_id = d.instrument_id and i.valid_to_run is null
        where d.quarter >= (select max(taken_on) from sample where valid_to_run is null) - interval {_YEARS} year
        order by d.instrument_id, d.record, d.property, d.point, d.quarter""",
}

#: Openings of the sieves nominal sizes are named by, mm: the maximum size is one larger than the nominal maximum size
#: (AASHTO M 323, definitions; common practice).
_SIZES = (4.75, 9.5, 12.5, 19.0, 25.0, 37.5, 50.0)

#: Queries of mixes; the scope names the mixes whose pages are rendered.
MIXES = {
    "mixes": """
        select mix_id, revision, valid_from, project_id, plant, nmas_mm, binder_grade, traffic, layer, pb_pct, gmm,
               air_voids_pct, vma_pct, n_initial, n_design, n_maximum, recycled_pct,
               (select min(size) from (select unnest([{sizes}]) as size) where size > nmas_mm) as maximum_size_mm
        from mix_design where valid_to_run is null and {scope} order by mix_id, revision""",
    "mix_phases": """
        select mix_id, project_id, revision, property, point, target, verification, startup, production,
               production_samples, production_deviation, production_less_target, production_less_verification,
               production_less_startup
        from design_phases where {scope} order by mix_id, project_id, revision, property, point""",
    "mix_gradation": """
        select mix_id, revision, sieve_mm, passing_pct from mix_gradation
        where valid_to_run is null and {scope} order by mix_id, revision, sieve_mm""",
    # What the limits on single results allow at each sieve: fixed ones are control points, moving ones the tolerance.
    "mix_bands": """
        select s.mix_id, s.revision, j.point as sieve_mm, l.basis, max(j.lower) as lower, min(j.upper) as upper
        from judgement j
        join samples s using (sample_id)
        join specification_limit l on l.set_id = j.set_id and l.limit_id = j.limit_id and l.valid_to_run is null
        where j.valid_to_run is null and j.property = 'passing' and s.revision is not null and {scope}
        group by s.mix_id, s.revision, j.point, l.basis order by all""",
    "mix_states": """
        select mix_id, project_id, event_no, taken_on, sample_id, purpose, out, failed, state
        from mix_states where {scope} order by mix_id, project_id, event_no""",
    "stockpile": """
        select mix_id, revision, stockpile, share_pct, source, gsb, gsa from stockpile
        where valid_to_run is null and {scope}
        qualify revision = max(revision) over (partition by mix_id) order by mix_id, share_pct desc, stockpile""",
    # The same for all samples of a revision, unless the card was corrected between them: the latest sample knows.
    "mix_gravity": """
        select mix_id, revision, arg_max(value, taken_on) as gsb_blend from sample_values
        where property = 'gsb_blend' and revision is not null and {scope} group by all order by all""",
    # One requirement, whichever phases and samples it was applied to.
    "mix_rut_limits": """
        select s.mix_id, s.binder_grade, j.point as passes, j.upper as depth_mm, min(j.source) as source
        from judgements j join samples s using (sample_id)
        where j.property = 'rut_depth' and j.point is not null and j.upper is not null and {scope}
        group by all order by all""",
}

#: Results followed along time on the page of a mix, in the order in which they are shown.
_FOLLOWED = ("air_voids", "vma", "vfa", "pb", "dust_proportion")

#: Rule of thinning: the axis is cut into equal stretches; the first point of each is kept, and the last of all.
_THINNED = """
        qualify row_number() over (partition by sample_id, stretch order by x) = 1 or x = reach"""
_STRETCHES = CURVE_POINTS - 2
_LATEST = f"""
            qualify row_number() over (partition by mix_id order by taken_on desc, sample_id desc) <= {MIX_SAMPLES}"""

#: Curves of the samples of mixes. A mean is taken only where every specimen or wheel of the sample has a reading:
#: a curve that went on with those left would jump.
CURVES = {
    "mix_density": f"""
        with own as (
            select mix_id, sample_id, phase, taken_on from samples
            where sample_id in (select sample_id from densification) and {{scope}}{_LATEST}
        ), means as (
            select mix_id, sample_id, phase, taken_on, gyration as x, avg(gmm_pct) as y, count(*) as specimens
            from own join densification using (sample_id)
            where gyration >= 1 and isfinite(gmm_pct) group by all
        ), complete as (
            select * from means qualify specimens = max(specimens) over (partition by sample_id)
        ), cut as (
            select *, max(x) over (partition by sample_id) as reach, floor({_STRETCHES} * ln(x) / nullif(ln(reach), 0))
                   as stretch
            from complete
        )
        select mix_id, sample_id, phase, taken_on, specimens, x as gyration, y as gmm_pct from cut{_THINNED}
        order by mix_id, taken_on, sample_id, x""",
    "mix_rut": f"""
        with own as (
            select mix_id, sample_id, taken_on from samples
            where sample_id in (select sample_id from wheel_depth) and {{scope}}{_LATEST}
        ), verdicts as (
            select sample_id, case when bool_or(verdict = 'fail') then 'fail'
                                   when bool_and(verdict = 'pass') then 'pass' end as verdict
            from judgements where property = 'rut_depth' group by 1
        ), means as (
            select sample_id, wheel_pass as x, count(*) as wheels
            from wheel_depth where sample_id in (select sample_id from own) group by all
        ), complete as (
            select * from means qualify wheels = max(wheels) over (partition by sample_id)
        ), cut as (
            select *, max(x) over (partition by sample_id) as reach,
                   floor({_STRETCHES} * x / nullif(reach, 0)) as stretch
            from complete
        ), kept as (
            select sample_id, x, wheels from cut{_THINNED}
        )
        select own.mix_id, own.taken_on, verdicts.verdict, kept.wheels, d.*
        from wheel_depth d join kept on kept.sample_id = d.sample_id and kept.x = d.wheel_pass
        join own on own.sample_id = d.sample_id left join verdicts on verdicts.sample_id = d.sample_id
        order by own.mix_id, own.taken_on, d.sample_id, d.wheel_pass""",
}

#: Queries of lots and control charts; the scope names the projects whose pages are rendered.
LOTS = {
    "lots": f"""
        select project_id, mix_id, lot, plan_id, property, point, n,
               len(string_split(left_out, '; ')) as left_out, mean, s, target, lower, upper,
               within_pct, pay_pct, coalesce(weight, 1) as weight, composite_pct,
               coalesce((select any_value(t.composite) from specification_set t
                         where t.set_id = lots.set_id and t.valid_to_run is null),
                        '{CompositeRule.WEIGHTED.value}') as composite_rule,
               consequence, retest, removal, outlier, pay_rule, reason, source, mark
        from lots where {{scope}} order by project_id, mix_id, lot, plan_id, property, point""",
    "charts": """
        select project_id, mix_id, property, point, sample_id, taken_on, place_no, value, target, centre,
               lower_control, upper_control, signals, published
        from charts where {scope} order by project_id, mix_id, property, point, place_no""",
}


def lots(connection: DuckDBPyConnection, chosen: Scope) -> dict[str, pl.DataFrame]:
    """Return lots and control charts of the projects of the scope."""
    if chosen.projects is None:
        return {name: fetch(connection, sql.format(scope="true")) for name, sql in LOTS.items()}
    own = "project_id in (select unnest(?))"
    return {name: fetch(connection, sql.format(scope=own), [sorted(chosen.projects)]) for name, sql in LOTS.items()}


def _scoped(
    connection: DuckDBPyConnection, queries: Mapping[str, str], names: list[str] | None
) -> dict[str, pl.DataFrame]:
    """Return the answers to queries of mixes, restricted to the mixes named; None is all."""
    sizes = ", ".join(map(str, _SIZES))
    if names is None:
        return {name: fetch(connection, sql.format(scope="true", sizes=sizes)) for name, sql in queries.items()}
    own = "mix_id in (select unnest(?))"
    return {name: fetch(connection, sql.format(scope=own, sizes=sizes), [names]) for name, sql in queries.items()}


def _names(connection: DuckDBPyConnection, chosen: Scope) -> list[str] | None:
    """Return the mixes designed for the projects of the scope, or sampled there; None is all."""
    if chosen.projects is None:
        return None
    wanted = sorted(chosen.projects)
    of = "select mix_id from {} where valid_to_run is null and project_id in (select unnest(?))"
    rows = connection.execute(f"{of.format('sample')} union {of.format('mix_design')}", [wanted, wanted]).fetchall()
    return [row[0] for row in rows]


def mixes(
    connection: DuckDBPyConnection, frames: Mapping[str, pl.DataFrame], parameters: Results, chosen: Scope
) -> dict[str, pl.DataFrame]:
    """Return what the pages of mixes show: of the mixes designed for the projects of the scope, or sampled there.

    Parameters
    ----------
    frames
        The tables samples, sample_values and judgements.
    """
    names = _names(connection, chosen)
    found = _scoped(connection, MIXES, names) | _scoped(connection, CURVES, names)
    targets = _scoped(connection, {"t": "select * from design_targets where {scope}"}, names)["t"]
    samples = frames["samples"].drop_nulls("mix_id")
    own = samples if names is None else samples.filter(pl.col("mix_id").is_in(names))
    return found | {"mix_rut": _wheel_means(found["mix_rut"], parameters)} | _trends(frames, own, targets)


def _wheel_means(readings: pl.DataFrame, parameters: Results) -> pl.DataFrame:
    """Return the mean depth of the wheels of each sample at each pass, from the positions that count, mm."""
    depth = counted_depth(parameters)
    return (
        readings.with_columns(depth.alias("depth_mm"))
        .group_by("mix_id", "sample_id", "taken_on", "verdict", "wheels", "wheel_pass", maintain_order=True)
        .agg(pl.when(pl.col("depth_mm").is_finite().all() & (pl.col("depth_mm").null_count() == 0)).then(
            pl.col("depth_mm").mean()))
        .drop_nulls("depth_mm")
    )  # fmt: skip


def _trends(
    frames: Mapping[str, pl.DataFrame], samples: pl.DataFrame, targets: pl.DataFrame
) -> dict[str, pl.DataFrame]:
    """Return the results followed on the pages of mixes in time order, and per mix and result what they come to."""
    key = ["mix_id", "property"]
    followed = {
        name: frames[name].filter(pl.col("property").is_in(_FOLLOWED)) for name in ("sample_values", "judgements")
    }
    flags = followed["sample_values"].select("sample_id", "property", "flags")
    rows = (
        overview_tables.results({"samples": samples, **followed})
        .drop_nulls("value")
        .join(samples.select("sample_id", "mix_id", "revision"), on="sample_id")
        .join(flags, on=["sample_id", "property"], how="left")
        .join(targets.select(*key, "revision", "target"), on=[*key, "revision"], how="left")
        .sort("mix_id", pl.col("property").cast(pl.Enum(_FOLLOWED)), "taken_on", "sample_id", nulls_last=True)
    )
    figures = ["value", "target", "lower", "upper"]
    shown = [*key, "point", "project_id", "revision", "sample_id", "taken_on", *figures, "verdict", "flags"]
    totals = rows.group_by(*key, "point", maintain_order=True).agg(
        pl.len().cast(pl.Int64).alias("samples"),
        (pl.col("verdict") == "fail").sum().cast(pl.Int64).alias("outside"),
        (pl.col("flags").fill_null("") != "").sum().cast(pl.Int64).alias("flagged"),
        pl.col("target", "lower", "upper").last(),
    )
    latest = rows.group_by(key, maintain_order=True).tail(MIX_SAMPLES)
    return {"mix_trends": latest.select(shown), "mix_trend_totals": totals}


def work(connection: DuckDBPyConnection, run: pl.DataFrame) -> pl.DataFrame:
    """Return the work list on the day the last run ended, UTC; empty where none has.

    Parameters
    ----------
    run
        The last run: column finished_at.
    """
    stamp = run["finished_at"].drop_nulls()
    if stamp.is_empty():
        return pl.DataFrame()
    return on_day(connection, date.fromisoformat(str(stamp[-1])[:10]))


def quality(connection: DuckDBPyConnection) -> dict[str, pl.DataFrame]:
    """Return what the data-quality page shows besides the refusals."""
    return {name: fetch(connection, sql) for name, sql in QUALITY.items()}
