"""Queries of the tables of work and quality that renderers receive: computed in SQL, only shown there."""

from datetime import date

import polars as pl
from duckdb import DuckDBPyConnection

from pipeline.work_list import on_day
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
