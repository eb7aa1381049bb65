"""Small helpers between polars and DuckDB: quoting, staging a frame, fetching one."""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from itertools import count
from typing import Any

import duckdb
import polars as pl

_numbers = count(1)


def quoted(name: str) -> str:
    """Return a name as an SQL identifier, whatever characters it holds."""
    return '"' + name.replace('"', '""') + '"'


def literal(text: str) -> str:
    """Return a text as an SQL string."""
    return "'" + text.replace("'", "''") + "'"


def listed(names: Iterable[str], prefix: str = "") -> str:
    """Return names as a quoted, comma-separated list, each behind `prefix` (such as `t.`)."""
    return ", ".join(prefix + quoted(name) for name in names)


def same(left: str, right: str, columns: Iterable[str]) -> str:
    """Return the condition that two relations agree in the columns; null agrees with null."""
    return " AND ".join(f"{left}.{quoted(name)} IS NOT DISTINCT FROM {right}.{quoted(name)}" for name in columns)


def run(connection: duckdb.DuckDBPyConnection, statement: str, parameters: Sequence[Any] | None = None) -> None:
    """Run one statement to its end."""
    connection.execute(statement, parameters).complete()


def fetch(connection: duckdb.DuckDBPyConnection, query: str, parameters: Sequence[Any] | None = None) -> pl.DataFrame:
    """Run a query and return its rows as a frame."""
    relation = connection.sql(query, params=parameters)
    if relation is None:
        raise ValueError("the statement returns no rows")
    rows: pl.DataFrame = relation.pl()
    return rows


def count_of(connection: duckdb.DuckDBPyConnection, query: str, parameters: Sequence[Any] | None = None) -> int:
    """Run a query that gives a single whole number, and return it."""
    row = connection.execute(query, parameters).fetchall()[0]
    return int(row[0])


@contextmanager
def staged(connection: duckdb.DuckDBPyConnection, frame: pl.DataFrame) -> Iterator[str]:
    """Make a frame readable in SQL without copying it; gives the name to read it by."""
    name = f"staged_{next(_numbers)}"
    connection.register(name, frame)
    try:
        yield name
    except BaseException:
        # In a transaction that was aborted even this fails, and would hide the cause.
        with suppress(duckdb.Error):
            connection.unregister(name)
        raise
    connection.unregister(name)


@contextmanager
def scratch(
    connection: duckdb.DuckDBPyConnection, query: str, parameters: Sequence[Any] | None = None
) -> Iterator[str]:
    """Keep the rows of a query in a temporary table; gives its name."""
    name = f"scratch_{next(_numbers)}"
    run(connection, f"CREATE TEMP TABLE {name} AS {query}", parameters)
    # After a fault the transaction is lost and the table with it: a DROP would only hide the cause.
    yield name
    run(connection, f"DROP TABLE {name}")
