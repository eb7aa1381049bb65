"""Queries of the tables of work, quality, mixes and lots that renderers receive: computed in SQL, only shown there."""

from datetime import date

import polars as pl
from duckdb import DuckDBPyConnection

from pipeline.work_list import on_day
from plugins.api import Scope
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
               air_voids_pct, vma_pct, n_design, recycled_pct,
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


def mixes(connection: DuckDBPyConnection, chosen: Scope) -> dict[str, pl.DataFrame]:
    """Return what the pages of mixes show: of the mixes designed for the projects of the scope, or sampled there."""
    sizes = ", ".join(map(str, _SIZES))
    if chosen.projects is None:
        return {name: fetch(connection, sql.format(scope="true", sizes=sizes)) for name, sql in MIXES.items()}
    wanted = sorted(chosen.projects)
    of = "select mix_id from {} where valid_to_run is null and project_id in (select unnest(?))"
    rows = connection.execute(f"{of.format('sample')} union {of.format('mix_design')}", [wanted, wanted]).fetchall()
    names = [row[0] for row in rows]
    return {
        name: fetch(connection, sql.format(scope="mix_id in (select unnest(?))", sizes=sizes), [names])
        for name, sql in MIXES.items()
    }


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
