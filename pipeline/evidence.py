"""A measured or registered figure -> the rows of exports it was read from: file, line, instrument, raw text."""

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl
from duckdb import DuckDBPyConnection

from pipeline.derive.revisions import DESIGN
from pipeline.evidence_of_traces import OF_TRACES, readings
from pipeline.formulas.model import Quantity
from pipeline.raw_lines import raw_lines
from pipeline.workspace import Workspace
from schemas.describe import ColumnDescription, describe, of_specimens
from schemas.units import SUFFIXES
from schemas.vocabulary import LengthRole, MassRole
from warehouse.sql import fetch

_MASS = "mass_"
_RETAINED = f"{_MASS}{MassRole.RETAINED.value}"
_LENGTH = "length_"
#: Figures read off a long series rather than off one field: stem -> series, its counter, what states the count.
_HEIGHTS = {
    "height_final": "(select max(gyrations) from compaction_run where {own} and valid_to_run is null)",
    "height_n_initial": "(select n_initial from {design})",
    "height_n_design": "(select n_design from {design})",
    "height_n_maximum": "(select n_maximum from {design})",
}
#: How a row of a record is named, where its column alone does not tell.
_LABELS = {
    "weighing": "role || coalesce(' ' || sieve_mm || ' mm', '')",
    "dimension": "role || ' ' || reading",
    "load_point": "'reading ' || reading || ', ' || displacement_mm || ' mm, load_n'",
}
#: Masses of a drying series -> how many weighings before the last.
_DRIED = {"mass_oven_container_dried": 0, "mass_oven_container_dried_before": 1}
_DEPTHS = {"depth_before": "pass_before", "depth_after": "pass_after"}


@dataclass(frozen=True)
class Subject:
    """What a figure belongs to: a sample, its mix revision, and the specimen and place where it has them."""

    sample_id: str
    mix_id: str | None
    revision: int | None
    specimen_no: str | None = None
    method: str | None = None
    at: float | None = None


@dataclass(frozen=True)
class Evidence:
    """One row of an export."""

    text: str
    file_name: str
    place: str
    raw_line: str | None
    instrument_id: str | None


def evidence(
    connection: DuckDBPyConnection, workspace: Workspace, quantity: Quantity, subject: Subject
) -> list[Evidence]:
    """Return the rows a figure was read from; none where it was not recorded."""
    found = _rows(connection, quantity, subject)
    if found.is_empty():
        return []
    names = fetch(connection, "select export_hash, name as file_name from exports")
    told = found.join(names, on="export_hash", how="left", maintain_order="left").join(
        raw_lines(workspace, found), on=["export_hash", "source_line"], how="left", maintain_order="left"
    )
    return [
        Evidence(
            text=row["shown"],
            file_name=row["file_name"],
            place=", ".join(filter(None, (row["source_part"], f"line {row['source_line']}"))),
            raw_line=row["raw_line"],
            instrument_id=row["instrument_id"],
        )
        for row in told.iter_rows(named=True)
    ]


def _rows(connection: DuckDBPyConnection, quantity: Quantity, subject: Subject) -> pl.DataFrame:
    name = quantity.name
    if name in _HEIGHTS:
        return _height(connection, name, subject)
    if name in _DEPTHS:
        return _depth(connection, name, subject)
    if name in OF_TRACES:
        found = readings(name, subject.sample_id, subject.specimen_no, subject.method)
        return _select(connection, "load_point", "load_n", *found)
    by_role = _by_role(name, subject)
    return _observed(connection, *by_role) if by_role else _field(connection, quantity, subject)


def _by_role(name: str, subject: Subject) -> tuple[str, str, Subject, str, list[object]] | None:
    """Return where a mass or length stands whose role its name tells; None for other names."""
    if name.startswith(_RETAINED):
        where = "role = ? and method = ? and (? is null or sieve_mm >= ?)"
        return "weighing", "mass_g", subject, where, [MassRole.RETAINED.value, subject.method, subject.at, subject.at]
    where = "role = ? and method = ?"
    if name.startswith(_MASS) and (role := name.removeprefix(_MASS)) in MassRole.values():
        return "weighing", "mass_g", subject, where, [role, subject.method]
    if name in _DRIED:
        last = f"""(select max(d.reading) - {_DRIED[name]} from drying_weighing d
            where d.sample_id = ? and d.specimen_no = ? and d.method = ? and d.valid_to_run is null)"""
        own = [subject.sample_id, subject.specimen_no, subject.method]
        return "drying_weighing", "mass_g", subject, f"method = ? and reading = {last}", [subject.method, *own]
    role = name.removeprefix(_LENGTH).removesuffix("_range").removesuffix("_n")
    if name.startswith(_LENGTH) and role in LengthRole.values():
        return "dimension", "length_mm", subject, where, [role, subject.method]
    return None


def _own(subject: Subject) -> tuple[str, list[object]]:
    if subject.specimen_no is None:
        return "sample_id = ?", [subject.sample_id]
    return "sample_id = ? and specimen_no = ?", [subject.sample_id, subject.specimen_no]


def _observed(
    connection: DuckDBPyConnection,
    record: str,
    column: str,
    subject: Subject,
    where: str = "true",
    given: Sequence[object] = (),
) -> pl.DataFrame:
    own, values = _own(subject)
    return _select(connection, record, column, f"{own} and {where}", [*values, *given])


def _select(connection: DuckDBPyConnection, record: str, column: str, where: str, given: list[object]) -> pl.DataFrame:
    description = describe(record)
    unit = description.column(column).unit
    current = "valid_to_run is null and" if description.ties.storage == "table" else ""
    instrument = "instrument_id" if "instrument_id" in description.schema() else "null::varchar"
    label = _LABELS.get(record, f"'{column}'")
    sql = f"""
        select {label} || ' ' || "{column}" || '{f" {unit}" if unit else ""}' as shown,
               export_hash, source_part, source_line, {instrument} as instrument_id
        from "{record}" where {current} "{column}" is not null and {where} order by source_line"""
    return fetch(connection, sql, given)


def _field(connection: DuckDBPyConnection, quantity: Quantity, subject: Subject) -> pl.DataFrame:
    """Look for the field of that name: in the specimen's own records, in the register's entry, in the mix design."""
    name = quantity.name
    own = of_specimens() if subject.specimen_no else ()
    for record in [*own, "sample"]:
        column = next((each.name for each in describe(record).columns if _stem(each) == name), None)
        if column is None:
            continue
        specimen = subject
        if record == "wheel_run" and subject.specimen_no:
            number, _, wheel = subject.specimen_no.rpartition(" ")
            where = "sample_id = ? and specimen_no = ? and wheel = ?"
            return _select(connection, record, column, where, [subject.sample_id, number, wheel])
        by_method = "method" in describe(record).ties.key
        where, given = ("method = ?", [subject.method]) if by_method else ("true", [])
        if record == "sample":
            specimen = Subject(subject.sample_id, subject.mix_id, subject.revision)
        found = _observed(connection, record, column, specimen, where, list(given))
        if not found.is_empty():
            return found
    column = next((column for column, (quantity_name, _) in DESIGN.items() if quantity_name == name), None)
    if column is None:
        return pl.DataFrame()
    return _select(connection, "mix_design", column, "mix_id = ? and revision = ?", [subject.mix_id, subject.revision])


def _stem(column: ColumnDescription) -> str:
    return column.name.removesuffix(SUFFIXES[column.unit]) if column.unit else column.name


def _height(connection: DuckDBPyConnection, name: str, subject: Subject) -> pl.DataFrame:
    own, values = _own(subject)
    design = "(from mix_design where mix_id = ? and revision = ? and valid_to_run is null)"
    count = _HEIGHTS[name].format(own=own, design=design)
    given = values if "{own}" in _HEIGHTS[name] else [subject.mix_id, subject.revision]
    return _select(connection, "compaction_height", "height_mm", f"{own} and gyration = {count}", [*values, *given])


def _depth(connection: DuckDBPyConnection, name: str, subject: Subject) -> pl.DataFrame:
    if subject.specimen_no is None:
        return pl.DataFrame()
    number, _, wheel = subject.specimen_no.rpartition(" ")
    side, bound = ("max", "<=") if _DEPTHS[name] == "pass_before" else ("min", ">=")
    where = f"""sample_id = ? and specimen_no = ? and wheel = ? and wheel_pass = (
        select {side}(wheel_pass) from wheel_depth
        where sample_id = ? and specimen_no = ? and wheel = ? and wheel_pass {bound} ?)"""
    given = [subject.sample_id, number, wheel]
    return _select(connection, "wheel_depth", "depth_06_mm", where, [*given, *given, subject.at])
