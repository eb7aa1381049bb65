"""Long raw series: immutable Parquet parts beside the store, whole numbers of a step of length, read part by part."""

import hashlib
from collections.abc import Iterable
from pathlib import Path

import duckdb
import polars as pl

from schemas.describe import ColumnDescription, Description, describe, describe_all
from warehouse import files
from warehouse.ddl import duck_type
from warehouse.history import shaped
from warehouse.sql import fetch, listed, literal, quoted, run, same, staged

#: Column of a part that tells how many steps of its whole numbers make a millimetre.
STEPS = "steps_per_mm"

#: Steps tried, coarsest first: hundredths as instruments give them, finer where a value would lose by it. At the
#: finest a value is rounded to a millionth of a millimetre, and the tallest specimen still fits 32 bits.
_STEPS_TRIED = (100, 1_000, 10_000, 100_000, 1_000_000)

_ROW_GROUP = 50_000
#: Rows of many runs lie together by stretches of so many passes: a question about one pass then reads a stretch of each
#: run and passes over the rest of the part.
_STRETCHES = {"wheel_pass": 1_000}
#: Parts are written once and kept for good: at the usual level 3 they are up to two fifths larger.
_LEVEL = 15


def is_stepped(column: ColumnDescription) -> bool:
    """Say whether a column is kept as whole steps: lengths, which instruments read in hundredths of a mm."""
    return column.unit == "mm" and column.dtype == pl.Float64()


def _stored_name(column: ColumnDescription) -> str:
    return column.name.removesuffix("_mm") + "_steps" if is_stepped(column) else column.name


def records() -> tuple[Description, ...]:
    """Return every record kept as a long series."""
    return tuple(each for each in describe_all() if each.ties.storage == "series")


def header_key(name: str) -> list[str]:
    """Return the columns that lead from a row of the series to its header row.

    A series an export gave follows the header of the same export; a computed one follows its sample.
    """
    description = describe(name)
    if not description.imported:
        return ["sample_id"]
    return ["export_hash", *describe(description.ties.header or "").ties.key]


def _steps(connection: duckdb.DuckDBPyConnection, rows: str, description: Description) -> int:
    """Return the coarsest steps per mm in which every length comes back exactly; else the finest.

    Decided by the division that reads the part, not in polars, which turns a quotient by a constant into a product.
    """
    stepped = [quoted(column.name) for column in description.columns if is_stepped(column)]
    if not stepped:
        return _STEPS_TRIED[0]
    for steps in _STEPS_TRIED[:-1]:
        exact = [f"bool_and({name} IS NULL OR {_in_steps(name, steps)} / {steps} = {name})" for name in stepped]
        if fetch(connection, f"SELECT {' AND '.join(exact)} FROM {rows}").item() is not False:
            return steps
    return _STEPS_TRIED[-1]


def _in_steps(name: str, steps: int) -> str:
    return f"round({name} * {steps})::INTEGER"


def _packing(description: Description, steps: int) -> str:
    columns = [
        f"{_in_steps(quoted(column.name), steps)} AS {quoted(_stored_name(column))}"
        if is_stepped(column)
        else quoted(column.name)
        for column in description.columns
    ]
    return ", ".join([*columns, f"{steps}::INTEGER AS {quoted(STEPS)}"])


def write_part(connection: duckdb.DuckDBPyConnection, folder: Path, name: str, frame: pl.DataFrame, run_id: int) -> str:
    """Write the rows of one record and run as one part; return its path below the series folder.

    Parameters
    ----------
    folder
        The workspace's series folder.
    name
        A record kept as a series.
    frame
        Its rows, with every column of the record.
    run_id
        Run that writes it.
    """
    description = describe(name)
    target_folder = folder / name
    target_folder.mkdir(parents=True, exist_ok=True)
    unfinished = files.aside(target_folder / f"{run_id}.parquet")
    ordered = dict.fromkeys([*header_key(name), *description.ties.key])
    stretches = [f"{column} // {length}" for column, length in _STRETCHES.items() if column in ordered]
    order = ", ".join([*stretches, listed(ordered)])
    with staged(connection, frame) as rows:
        packing = _packing(description, _steps(connection, rows, description))
        run(
            connection,
            f"COPY (SELECT {packing} FROM {rows} ORDER BY {order}) TO {literal(str(unfinished))} "
            f"(FORMAT parquet, COMPRESSION zstd, COMPRESSION_LEVEL {_LEVEL}, PARQUET_VERSION v2, "
            f"ROW_GROUP_SIZE {_ROW_GROUP})",
        )
    with unfinished.open("rb") as stream:
        digest = hashlib.file_digest(stream, "sha256").hexdigest()
    file = f"{name}/{run_id}-{digest[:12]}.parquet"
    files.settle(unfinished, folder / file)
    return file


def _columns(description: Description) -> str:
    return ", ".join(
        f"p.{quoted(_stored_name(column))} / p.{quoted(STEPS)} AS {quoted(column.name)}"
        if is_stepped(column)
        else f"p.{quoted(column.name)}"
        for column in description.columns
    )


def rows_query(name: str, folder: Path, parts: Iterable[str]) -> str:
    """Return the query for all rows of these parts, in stored units, with the part's path in `part_file`.

    Without any part it is a query that gives no rows, of the same columns.
    """
    description, parts = describe(name), list(parts)
    if not parts:
        columns = ", ".join(f"NULL::{duck_type(each.dtype)} AS {quoted(each.name)}" for each in description.columns)
        return f"SELECT {columns}, NULL::VARCHAR AS part_file WHERE false"
    paths = ", ".join(literal((folder / part).as_posix()) for part in parts)
    cut = len(folder.as_posix()) + 2
    source = f"read_parquet([{paths}], filename = true) AS p"
    return f"SELECT {_columns(description)}, p.filename[{cut}:] AS part_file FROM {source}"


def current_query(name: str, folder: Path, parts: Iterable[str], headers: str | None = None) -> str:
    """Return the query for the rows of a series whose header row is current.

    Parameters
    ----------
    headers
        Relation of header rows to follow; by default the current rows of the header's table.
    """
    description, key = describe(name), header_key(name)
    rows = rows_query(name, folder, parts)
    columns = listed(description.schema(), "s.")
    if description.imported:
        header = headers or f"(SELECT * FROM {quoted(description.ties.header or '')} WHERE valid_to_run IS NULL)"
        which = "m.export_hash = s.export_hash AND m.valid_to_run IS NULL"
        mapping = "series_export"
    else:
        header = headers or "(SELECT sample_id FROM series_sample WHERE valid_to_run IS NULL)"
        which = "m.sample_id = s.sample_id AND m.valid_to_run IS NULL"
        mapping = "series_sample"
    return (
        f"SELECT {columns} FROM ({rows}) AS s "
        f"SEMI JOIN {header} AS h ON {same('s', 'h', key)} "
        f"SEMI JOIN {mapping} AS m ON m.record = {literal(name)} AND m.file = s.part_file AND {which}"
    )


def parts_of(connection: duckdb.DuckDBPyConnection, name: str, headers: str) -> list[str]:
    """Return the parts that hold the rows of these headers, and no others."""
    mapping, tie = (
        ("series_export", "m.export_hash = h.export_hash AND m.valid_to_run IS NULL")
        if describe(name).imported
        else ("series_sample", "m.sample_id = h.sample_id AND m.valid_to_run IS NULL")
    )
    query = (
        f"SELECT DISTINCT m.file FROM {mapping} AS m SEMI JOIN {headers} AS h ON {tie} WHERE m.record = ? ORDER BY 1"
    )
    found: list[str] = fetch(connection, query, [name]).to_series().to_list()
    return found


def read(connection: duckdb.DuckDBPyConnection, folder: Path, name: str, headers: pl.DataFrame) -> pl.DataFrame:
    """Return the rows of a series for these header rows, ordered by header and key."""
    description, key = describe(name), header_key(name)
    with staged(connection, headers.select(key).unique()) as heads:
        parts = parts_of(connection, name, heads)
        order = listed(dict.fromkeys([*key, *description.ties.key]))
        return fetch(connection, f"{current_query(name, folder, parts, heads)} ORDER BY {order}")


def register_part(
    connection: duckdb.DuckDBPyConnection, folder: Path, name: str, frame: pl.DataFrame, run_id: int
) -> str:
    """Write a part and enter it in the list of parts, within the open transaction; return its path."""
    file = write_part(connection, folder, name, frame, run_id)
    run(connection, "DELETE FROM series_part WHERE file = ?", [file])
    run(
        connection,
        "INSERT INTO series_part (record, file, run_id, row_count) VALUES (?, ?, ?, ?)",
        [name, file, run_id, frame.height],
    )
    return file


def store_series(
    connection: duckdb.DuckDBPyConnection, folder: Path, name: str, frame: pl.DataFrame, exports: str, run_id: int
) -> None:
    """Keep the rows these exports give of an imported series; what was kept of the same exports falls out of use."""
    description = describe(name)
    run(
        connection,
        "UPDATE series_export SET valid_to_run = ? WHERE record = ? AND valid_to_run IS NULL "
        f"AND export_hash IN (SELECT export_hash FROM {exports})",
        [run_id, name],
    )
    rows = shaped(frame, description)
    if rows.is_empty():
        return
    file = register_part(connection, folder, name, rows, run_id)
    with staged(connection, rows.select("export_hash").unique()) as hashes:
        run(
            connection,
            "INSERT INTO series_export (record, export_hash, file, valid_from_run, valid_to_run) "
            f"SELECT ?, export_hash, ?, ?, NULL FROM {hashes}",
            [name, file, run_id],
        )


def remove_orphans(connection: duckdb.DuckDBPyConnection, folder: Path) -> None:
    """Delete parts that no transaction ever registered: what a killed run left behind."""
    kept: set[str] = set(fetch(connection, "SELECT file FROM series_part").to_series())
    for description in records():
        present = [path for path in (folder / description.name).glob("*") if path.is_file()]
        for path in present:
            if path.relative_to(folder).as_posix() not in kept:
                files.remove(path)


def replace_series(
    connection: duckdb.DuckDBPyConnection,
    folder: Path,
    name: str,
    frame: pl.DataFrame,
    subjects: pl.DataFrame,
    run_id: int,
) -> None:
    """Make the current rows of a computed series what `frame` says for these samples; equal samples stay untouched."""
    description = describe(name)
    rows = shaped(frame, description).with_columns(valid_from_run=pl.lit(run_id, pl.Int64))
    old = read(connection, folder, name, subjects)
    compared = [column for column in description.schema() if column != "valid_from_run"]
    differing = pl.concat(_unmatched(one, other, compared) for one, other in ((rows, old), (old, rows))).unique()
    if differing.is_empty():
        return
    with staged(connection, differing) as samples:
        run(
            connection,
            "UPDATE series_sample SET valid_to_run = ? WHERE record = ? AND valid_to_run IS NULL "
            f"AND sample_id IN (SELECT sample_id FROM {samples})",
            [run_id, name],
        )
    fresh = rows.join(differing, on="sample_id", how="semi").select(list(description.schema()))
    if fresh.is_empty():
        return
    file = register_part(connection, folder, name, fresh, run_id)
    with staged(connection, fresh.select("sample_id").unique()) as samples:
        run(
            connection,
            "INSERT INTO series_sample (record, sample_id, file, valid_from_run, valid_to_run) "
            f"SELECT ?, sample_id, ?, ?, NULL FROM {samples}",
            [name, file, run_id],
        )


def _unmatched(rows: pl.DataFrame, others: pl.DataFrame, columns: list[str]) -> pl.DataFrame:
    return rows.join(others, on=columns, how="anti", nulls_equal=True).select("sample_id")
