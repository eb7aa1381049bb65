"""Gives the whole warehouse away: every table, view and long series as Parquet and CSV, batch by batch."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb

from warehouse import series
from warehouse.sql import fetch, quoted

#: Rows written at a time.
_BATCH = 100_000


@dataclass(frozen=True)
class Given:
    """One relation that was written: its kind (`tables`, `views` or `series`), name and rows."""

    kind: str
    name: str
    rows: int


def relations(connection: duckdb.DuckDBPyConnection) -> list[tuple[str, str]]:
    """Return kind and name of everything a reader's connection shows."""
    found = fetch(
        connection,
        """
        SELECT 'tables' AS kind, table_name AS name FROM duckdb_tables() WHERE NOT internal
        UNION ALL SELECT 'views', view_name FROM duckdb_views() WHERE NOT internal
        ORDER BY ALL
        """,
    )
    long = {each.name for each in series.records()}
    return [("series" if name in long else kind, name) for kind, name in found.iter_rows()]


def write(
    connection: duckdb.DuckDBPyConnection, folder: Path, long_as_csv: bool, step: Callable[[int], None]
) -> Iterator[Given]:
    """Write every relation to `folder`/parquet and `folder`/csv, and yield it once it is written.

    Parameters
    ----------
    long_as_csv
        Whether the long series are written as CSV, too, and the wheel depths one below the other.
    step
        Called after each relation.
    """
    for kind, name in relations(connection):
        is_long = kind == "series" or name == "wheel_depths"
        if name == "wheel_depths" and not long_as_csv:
            step(1)
            continue
        yield Given(kind, name, _write(connection, folder, kind, name, csv=long_as_csv or not is_long))
        step(1)


def _write(connection: duckdb.DuckDBPyConnection, folder: Path, kind: str, name: str, *, csv: bool) -> int:
    import pyarrow.csv as pa_csv
    import pyarrow.parquet as pq

    relation = connection.sql(f"SELECT * FROM {quoted(name)}")
    reader = relation.to_arrow_reader(_BATCH)
    rows = 0
    with pq.ParquetWriter(_path(folder, "parquet", kind, name), reader.schema, compression="zstd") as parquet:
        other: Any = pa_csv.CSVWriter(_path(folder, "csv", kind, name), reader.schema) if csv else None
        for batch in reader:
            parquet.write_batch(batch)
            if other is not None:
                other.write_batch(batch)
            rows += batch.num_rows
        if other is not None:
            other.close()
    return rows


def _path(folder: Path, form: str, kind: str, name: str) -> Path:
    path = folder / form / kind / f"{name}.{form}"
    path.parent.mkdir(parents=True, exist_ok=True)
    return path
