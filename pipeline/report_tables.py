"""The tables only reports need: from sampling to result, instruments with their calibration, specification sets."""

import polars as pl
from duckdb import DuckDBPyConnection

from pipeline.derive.calibrated import calibrations_due, states
from pipeline.settings import Results
from plugins.api import Scope
from warehouse.sql import fetch

_CHAIN = """
    select r.sample_id, min(e.received_at) as arrived_at, min(r.stated_at) as first_tested_at,
           max(r.stated_at) as last_tested_at
    from source_rows r left join exports e using (export_hash)
    where r.record not in ('sample', 'report_issue') and {scope} group by all"""
_READ = """
    select r.sample_id, r.instrument_id, i.kind, r.method, r.record,
           coalesce(r.stated_at::date, r.issued_at::date, s.taken_on) as day, count(*) as readings
    from source_rows r
    left join instrument i on i.instrument_id = r.instrument_id and i.valid_to_run is null
    left join sample s on s.sample_id = r.sample_id and s.valid_to_run is null
    where r.instrument_id is not null and {scope} group by all"""
_SETS = """
    select set_id, title, set_version, agency, valid_from, guard_factor, rounding
    from specification_set where valid_to_run is null order by set_id"""
#: States of calibration, the worst first.
_STATE_ORDER = ("rejected", "lapsed", "unknown", "covered")


def report_tables(connection: DuckDBPyConnection, parameters: Results, chosen: Scope) -> dict[str, pl.DataFrame]:
    """Return chain, sample_instruments and specifications of the samples of the scope."""
    return {
        "chain": _of(connection, _CHAIN, "r.", chosen).sort("sample_id"),
        "sample_instruments": _instruments(connection, parameters, chosen),
        "specifications": fetch(connection, _SETS),
    }


def _of(connection: DuckDBPyConnection, sql: str, alias: str, chosen: Scope) -> pl.DataFrame:
    if chosen.samples is None:
        return fetch(connection, sql.format(scope=f"{alias}sample_id is not null"))
    wanted = sorted(chosen.samples)
    return fetch(connection, sql.format(scope=f"{alias}sample_id in (select unnest(?))"), [wanted])


def _instruments(connection: DuckDBPyConnection, parameters: Results, chosen: Scope) -> pl.DataFrame:
    """Return, per sample, instrument and test, the days of use and the worst state of calibration on them."""
    read = _of(connection, _READ, "r.", chosen)
    calibration = fetch(connection, "select * from calibration where valid_to_run is null")
    instrument = fetch(connection, "select * from instrument where valid_to_run is null")
    due = calibrations_due(calibration, instrument, parameters)
    known = states(read.select("instrument_id", "day").drop_nulls(), due)
    order = {state: place for place, state in enumerate(_STATE_ORDER)}
    dated = read.join(known, on=["instrument_id", "day"], how="left").with_columns(
        method=pl.coalesce("method", "record"),
        state=pl.col("state").fill_null("unknown"),
    )
    key = ["sample_id", "instrument_id", "kind", "method"]
    return (
        dated.sort(pl.col("state").replace_strict(order, return_dtype=pl.Int64), "day")
        .group_by(key)
        .agg(
            pl.col("day").min().alias("first_on"),
            pl.col("day").max().alias("last_on"),
            pl.col("readings").sum().cast(pl.Int64),
            pl.col("calibrated_on", "until", "state").first(),
        )
        .rename({"until": "due_on"})
        .sort(key)
    )
