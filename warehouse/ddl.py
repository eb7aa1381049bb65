"""Description -> CREATE TABLE and COMMENT ON; and what a store has otherwise than described."""

import duckdb
import polars as pl

from schemas.describe import ColumnDescription, Description, describe_all
from warehouse.own_tables import OWN, VALIDITY
from warehouse.sql import fetch, literal, quoted

_TYPES: dict[pl.DataType, str] = {
    pl.String(): "VARCHAR",
    pl.Int64(): "BIGINT",
    pl.Float64(): "DOUBLE",
    pl.Boolean(): "BOOLEAN",
    pl.Date(): "DATE",
    pl.Datetime("us"): "TIMESTAMP",
}


def duck_type(dtype: pl.DataType) -> str:
    """Return the DuckDB type of a column of a record; KeyError for a type no record uses."""
    return _TYPES[dtype]


def tables() -> tuple[Description, ...]:
    """Return every table of the store: the records kept as tables, then the store's own."""
    return tuple(each for each in describe_all() if each.ties.storage == "table") + OWN


def columns(description: Description) -> tuple[ColumnDescription, ...]:
    """Return the columns of a table: those described, and the validity of an imported record."""
    return description.columns + (VALIDITY if description.imported else ())


def comment(column: ColumnDescription) -> str:
    """Return the comment of a column: sentence, unit, words and caution."""
    parts = [column.sentence]
    if column.unit:
        parts.append(f"Unit: {column.unit}.")
    if column.words:
        parts.append(f"One of: {', '.join(column.words)}.")
    if column.caution:
        parts.append(f"Caution: {column.caution}")
    return " ".join(parts)


def statements(description: Description) -> list[str]:
    """Return the statements that create a table and comment on it and on each of its columns.

    Bounds, vocabularies and keys are not repeated as constraints: rows are validated before they come here, the
    history holds several rows of a key, and a constraint in DuckDB cannot be altered by a later migration.
    """
    name = quoted(description.name)
    body = ", ".join(
        f"{quoted(column.name)} {duck_type(column.dtype)}{'' if column.nullable else ' NOT NULL'}"
        for column in columns(description)
    )
    comments = [
        f"COMMENT ON COLUMN {name}.{quoted(column.name)} IS {literal(comment(column))}"
        for column in columns(description)
    ]
    return [
        f"CREATE TABLE {name} ({body})",
        f"COMMENT ON TABLE {name} IS {literal(description.sentence)}",
        *comments,
    ]


def described() -> pl.DataFrame:
    """Return the columns as the schemas describe them: table, position, column, type, nullable, comment."""
    rows = [
        (table.name, position, column.name, duck_type(column.dtype), column.nullable, comment(column))
        for table in tables()
        for position, column in enumerate(columns(table), start=1)
    ]
    return pl.DataFrame(rows, schema=_LAYOUT, orient="row")


_LAYOUT = {
    "table_name": pl.String,
    "position": pl.Int64,
    "column_name": pl.String,
    "type": pl.String,
    "nullable": pl.Boolean,
    "comment": pl.String,
}


def found(connection: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Return the columns as the store has them, in the form of `described`."""
    return fetch(
        connection,
        """
        SELECT table_name, column_index::BIGINT AS position, column_name, data_type AS type, is_nullable AS nullable,
               columns.comment AS comment
        FROM duckdb_columns() AS columns
        JOIN duckdb_tables() AS tables USING (database_name, schema_name, table_name)
        WHERE NOT tables.temporary AND NOT tables.internal
        ORDER BY table_name, column_index
        """,
    ).cast(pl.Schema(_LAYOUT))


def differences(connection: duckdb.DuckDBPyConnection) -> list[str]:
    """Say, one sentence each, where the columns of a store are not those described; comments do not count."""
    counted = ["table_name", "position", "column_name", "type", "nullable"]
    wanted, present = described().select(counted), found(connection).select(counted)
    lacking = wanted.join(present, on=counted, how="anti")
    foreign = present.join(wanted, on=counted, how="anti")
    form = pl.format(
        "'{}.{}' ({}, {})",
        "table_name",
        "column_name",
        "type",
        pl.when("nullable").then(pl.lit("may be null")).otherwise(pl.lit("never null")),
    )
    return [
        *lacking.select(pl.format("the store lacks {}", form)).to_series().to_list(),
        *foreign.select(pl.format("the store has {}, which is not described", form)).to_series().to_list(),
    ]
