"""Catalogue handed in by the caller: properties, flags and the columns of the wide view."""

import duckdb
import polars as pl

from schemas.describe import Description
from warehouse.history import shaped
from warehouse.own_tables import FLAG, PROPERTY, PROPERTY_COLUMN
from warehouse.sql import listed, quoted, run, staged


def keep(connection: duckdb.DuckDBPyConnection, frame: pl.DataFrame, description: Description) -> None:
    """Replace the rows of a catalogue table.

    Raises
    ------
    ValueError
        When two rows have the same key.
    """
    rows = shaped(frame, description)
    repeated = rows.filter(pl.struct(description.ties.key).is_duplicated())
    if not repeated.is_empty():
        found = ", ".join(sorted({str(value) for value in repeated[description.ties.key[0]]}))
        raise ValueError(f"the catalogue '{description.name}' names more than once: {found}")
    columns = listed(description.schema())
    with staged(connection, rows) as new:
        run(connection, f"DELETE FROM {quoted(description.name)}")
        run(connection, f"INSERT INTO {quoted(description.name)} ({columns}) SELECT {columns} FROM {new}")


def keep_all(
    connection: duckdb.DuckDBPyConnection, properties: pl.DataFrame, flags: pl.DataFrame, columns: pl.DataFrame
) -> None:
    """Replace the catalogue of properties, of flags, and of the wide view's columns."""
    for frame, description in ((properties, PROPERTY), (flags, FLAG), (columns, PROPERTY_COLUMN)):
        keep(connection, frame, description)
