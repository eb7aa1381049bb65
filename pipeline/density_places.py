"""In-place density where it was measured: cores and gauge places of every lot, held against what limits them."""

import polars as pl
from duckdb import DuckDBPyConnection

from pipeline.judge.statistics.decision import compared
from pipeline.reporting import with_decimals, with_text
from pipeline.rounding import Rule
from plugins.api import Scope
from schemas.vocabulary import RoundingMethod
from warehouse.sql import fetch

#: A place is one core, or one spot a gauge read; the readings of a spot share its station. Limits are those of the
#: acceptance plan of the lot, which counts core by core, else those the set sets for the result of the whole sample.
_PLACES = """
    with place as (
        select 'relative_compaction' as property, sample_id, specimen_no, station_m, offset_m
        from core where valid_to_run is null
        union all
        select 'relative_compaction_gauge', sample_id, specimen_no, arg_min(station_m, reading),
               arg_min(offset_m, reading)
        from gauge_reading where valid_to_run is null group by sample_id, specimen_no
    ), plan as (
        select project_id, mix_id, lot, property, max(lower) as lower, min(upper) as upper
        from lots where point is null and (lower is not null or upper is not null) group by all
    ), single as (
        select sample_id, property, max(lower) as lower, min(upper) as upper
        from judgements where point is null and (lower is not null or upper is not null) group by all
    ), replaced as (
        select sample_id, replaces as specimen_no, min(specimen_no) as replaced_by
        from core where valid_to_run is null and replaces is not null group by all
    )
    select s.project_id, s.mix_id, s.lot, p.sample_id, p.specimen_no, p.property, v.point,
           p.station_m as station, p.offset_m as "offset", 'm' as place_unit, v.value, v.withheld, v.flags,
           r.replaced_by,
           case when plan.property is not null then 'plan' when single.property is not null then 'sample' end as basis,
           case when plan.property is not null then plan.lower else single.lower end as lower,
           case when plan.property is not null then plan.upper else single.upper end as upper,
           coalesce(t.rounding, '{rounding}') as rounding
    from place p
    join samples s using (sample_id)
    left join property_value v on v.sample_id = p.sample_id and v.specimen_no = p.specimen_no
        and v.property = p.property and v.level = 'specimen' and v.valid_to_run is null
    left join plan on plan.project_id = s.project_id and plan.mix_id = s.mix_id and plan.lot = s.lot
        and plan.property = p.property
    left join single on single.sample_id = p.sample_id and single.property = p.property
    left join replaced r on r.sample_id = p.sample_id and r.specimen_no = p.specimen_no
        and p.property = 'relative_compaction'
    left join specification_set t on t.set_id = s.set_id and t.valid_to_run is null
    where s.project_id is not null and {scope}
    order by s.project_id, s.mix_id, s.lot, p.station_m, p.offset_m, p.sample_id, p.specimen_no, p.property"""


def density_places(connection: DuckDBPyConnection, chosen: Scope, rule: Rule) -> pl.DataFrame:
    """Return cores and gauge places of the projects of the scope with their relative compaction.

    Parameters
    ----------
    connection
        The published store.
    chosen
        What is rendered.
    rule
        How exact halves are rounded.

    Returns
    -------
    One row per place and property in the order of the stations: station and offset (in `place_unit`, left negative;
    null where none is stated), value in percent of Gmm, text (as it is reported), lower and upper with their `basis`
    (`plan` of the lot or limit of the whole `sample`; null: no limit), and `side`: within, below, above, or null where
    there is no figure or no limit. Rounded before it is held against a limit unless the set asks for the absolute
    method (ASTM E29).
    """
    sql = _PLACES.format(
        rounding=RoundingMethod.ROUNDING.value,
        scope="true" if chosen.projects is None else "s.project_id in (select unnest(?))",
    )
    rows = fetch(connection, sql, None if chosen.projects is None else [sorted(chosen.projects)])
    held = compared(with_decimals(rows), rule)
    limited = pl.col("compared").is_not_null() & pl.col("basis").is_not_null()
    side = (
        pl.when(pl.col("compared") < pl.col("lower"))
        .then(pl.lit("below"))
        .when(pl.col("compared") > pl.col("upper"))
        .then(pl.lit("above"))
        .when(limited)
        .then(pl.lit("within"))
    )
    return with_text(held.with_columns(side=side).drop("decimals", "compared", "rounding"), rule)
