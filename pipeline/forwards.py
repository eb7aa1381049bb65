"""The trace forwards: what rests on an export, a calibration or a value of a mix design."""

import difflib
from dataclasses import dataclass
from datetime import date

import polars as pl
from duckdb import DuckDBPyConnection

from pipeline.explain import TraceError
from schemas.describe import describe
from warehouse.sql import fetch, literal


@dataclass(frozen=True)
class Cause:
    """What the figures rest on, in words, and the macro that finds them."""

    words: str
    macro: str


def resting(connection: DuckDBPyConnection, cause: Cause) -> pl.DataFrame:
    """Return the current figures that rest on a cause, with symbol and unit, by sample and property."""
    query = f"""
        select r.sample_id, r.property, p.symbol, r.level, r.method, r.specimen_no, r.point, r.value, p.unit
        from rests_on.{cause.macro} r left join property p on p.property = r.property
        order by r.sample_id, r.property, r.level, r.method, r.specimen_no, r.point"""
    return fetch(connection, query)


def export(connection: DuckDBPyConnection, given: str) -> Cause:
    """Return the cause for an export named by file name or by the beginning of its hash.

    Raises
    ------
    TraceError
        When no export, or more than one, is named so.
    """
    known = fetch(connection, "select export_hash, name from exports order by name")
    chosen = known.filter((pl.col("name") == given) | pl.col("name").str.ends_with(f"/{given}"))
    if chosen.is_empty() and len(given) >= 6:
        chosen = known.filter(pl.col("export_hash").str.starts_with(given))
    if chosen.is_empty():
        near = difflib.get_close_matches(given, known["name"].to_list(), n=3, cutoff=0.4)
        hint = f" Near it: {', '.join(near)}." if near else ' `mixledger sql "select name from exports"` lists them.'
        raise TraceError(f"no export '{given}' in the warehouse.{hint}")
    if chosen.height > 1:
        raise TraceError(f"'{given}' names several exports: {', '.join(chosen['name'].head(5))}; give the whole path.")
    export_hash, name = chosen.row(0)
    return Cause(f"export {name}", f"export({literal(export_hash)})")


def calibration(connection: DuckDBPyConnection, instrument: str, day: str) -> Cause:
    """Return the cause for a calibration of an instrument.

    Raises
    ------
    TraceError
        When the instrument was not calibrated on that day.
    """
    known = fetch(connection, "select calibrated_on from calibrations where instrument_id = ? order by 1", [instrument])
    days = [f"{each:%Y-%m-%d}" for each in known["calibrated_on"]]
    if day not in days:
        told = f"It was calibrated on {', '.join(days)}." if days else _instruments(connection)
        raise TraceError(f"no calibration of '{instrument}' on {day}. {told}")
    found = date.fromisoformat(day)
    return Cause(f"calibration of {instrument} on {day}", f"calibration({literal(instrument)}, date '{found}')")


def _instruments(connection: DuckDBPyConnection) -> str:
    names = fetch(connection, "select distinct instrument_id from calibrations order by 1")["instrument_id"]
    return f"Instruments with calibrations: {', '.join(names)}."


def design(connection: DuckDBPyConnection, mix_id: str, revision: int, column: str) -> Cause:
    """Return the cause for a value of a mix design.

    Raises
    ------
    TraceError
        When there is no such revision, or no such column.
    """
    columns = list(describe("mix_design").schema())
    if column not in columns:
        near = difflib.get_close_matches(column.lower(), columns, n=3) or columns
        raise TraceError(f"a mix design has no '{column}'. It has: {', '.join(near)}.")
    query = "select mix_id, revision from mix_design where valid_to_run is null order by all"
    known = fetch(connection, query)
    if (mix_id, revision) not in known.rows():
        listed = ", ".join(f"{mix} {number}" for mix, number in known.iter_rows())
        raise TraceError(f"no mix design '{mix_id}' revision {revision} in the warehouse. There are: {listed}.")
    words = f"{column} of mix design {mix_id} revision {revision}"
    return Cause(words, f"design({literal(mix_id)}, {int(revision)}, {literal(column)})")
