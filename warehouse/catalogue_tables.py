"""Catalogue handed in by the caller: properties, flags and the columns of the wide view."""

import duckdb
import polars as pl

from schemas.describe import Description
from warehouse.history import shaped
from warehouse.own_tables import FLAG, FORMULA, FORMULA_INPUT, PROPERTY, PROPERTY_COLUMN
from warehouse.sql import listed, quoted, run, same, staged


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


def add(connection: duckdb.DuckDBPyConnection, frame: pl.DataFrame, description: Description) -> None:
    """Add the rows of a catalogue whose key is new; earlier rows stay, for figures of their time name them."""
    columns, key = listed(description.schema()), description.ties.key
    with staged(connection, shaped(frame, description).unique(key, keep="first", maintain_order=True)) as new:
        run(
            connection,
            f"INSERT INTO {quoted(description.name)} ({columns}) SELECT {columns} FROM {new} AS n "
            f"ANTI JOIN {quoted(description.name)} AS o ON {same('n', 'o', key)}",
        )


def keep_all(
    connection: duckdb.DuckDBPyConnection, properties: pl.DataFrame, flags: pl.DataFrame, columns: pl.DataFrame
) -> None:
    """Replace the catalogue of properties, of flags, and of the wide view's columns."""
    for frame, description in ((properties, PROPERTY), (flags, FLAG), (columns, PROPERTY_COLUMN)):
        keep(connection, frame, description)


def add_formulas(connection: duckdb.DuckDBPyConnection, formulas: pl.DataFrame, inputs: pl.DataFrame) -> None:
    """Add formulas and what they take in; those of earlier versions stay."""
    add(connection, formulas, FORMULA)
    add(connection, inputs, FORMULA_INPUT)
