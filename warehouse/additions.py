"""What the schemas have more than a store: new tables and columns need no migration written by hand."""

import duckdb

from schemas.describe import Description
from warehouse import ddl
from warehouse.sql import count_of, fetch, literal, quoted, run


def tables(connection: duckdb.DuckDBPyConnection) -> list[Description]:
    """Return the described tables the store lacks, or has with other columns."""
    order = ["table_name", "position"]
    compared = [*order, "column_name", "type", "nullable"]
    wanted, found = ddl.described().select(compared), ddl.found(connection).select(compared)
    described = {table.name: table for table in ddl.tables()}
    return [
        table
        for name, table in described.items()
        if not wanted.filter(table_name=name).sort(order).equals(found.filter(table_name=name).sort(order))
    ]


def add(connection: duckdb.DuckDBPyConnection) -> list[str]:
    """Bring the tables of a store to their description where nothing is lost by it; say what was done.

    New tables are made. A table with new columns is made anew with its rows; the new columns are null, so they must
    allow that unless the table is empty. Columns that are gone, or of another type, are left for `ddl.differences` to
    tell: what becomes of their values is for a migration to say.
    """
    present = set(fetch(connection, "SELECT table_name FROM duckdb_tables() WHERE NOT temporary").to_series())
    done = []
    for table in tables(connection):
        if table.name not in present:
            _create(connection, table)
            done.append(f"added table '{table.name}'")
        elif new := _only_new(connection, table):
            _widen(connection, table, new)
            done.append(f"added to table '{table.name}': {', '.join(new)}")
    _comment(connection)
    return done


def _create(connection: duckdb.DuckDBPyConnection, table: Description) -> None:
    run(connection, ddl.statements(table)[0])


def _only_new(connection: duckdb.DuckDBPyConnection, table: Description) -> list[str]:
    """Return the new columns of a table if they are all that differs and its rows can do without; else none."""
    old = {name: dtype for name, dtype in _columns(connection, table.name)}
    described = {column.name: column for column in ddl.columns(table)}
    kept = all(name in described and ddl.duck_type(described[name].dtype) == dtype for name, dtype in old.items())
    new = [name for name in described if name not in old]
    filled = count_of(connection, f"SELECT count(*) FROM {quoted(table.name)}") > 0
    if not kept or (filled and not all(described[name].nullable for name in new)):
        return []
    return new


def _columns(connection: duckdb.DuckDBPyConnection, name: str) -> list[tuple[str, str]]:
    query = "SELECT column_name, data_type FROM duckdb_columns() WHERE table_name = ? AND schema_name = 'main'"
    return fetch(connection, query, [name]).rows()


def _widen(connection: duckdb.DuckDBPyConnection, table: Description, new: list[str]) -> None:
    name, aside = quoted(table.name), quoted(f"{table.name} before")
    run(connection, f"ALTER TABLE {name} RENAME TO {aside}")
    _create(connection, table)
    terms = ", ".join("NULL" if column.name in new else quoted(column.name) for column in ddl.columns(table))
    run(connection, f"INSERT INTO {name} SELECT {terms} FROM {aside}")
    run(connection, f"DROP TABLE {aside}")


def _comment(connection: duckdb.DuckDBPyConnection) -> None:
    """Give every table and column the comment of today, if a table of that name is there."""
    present = set(map(tuple, fetch(connection, _PRESENT).iter_rows()))
    for table in ddl.tables():
        name = quoted(table.name)
        said = [f"COMMENT ON TABLE {name} IS {literal(table.sentence)}"]
        said += [
            f"COMMENT ON COLUMN {name}.{quoted(column.name)} IS {literal(ddl.comment(column))}"
            for column in ddl.columns(table)
            if (table.name, column.name) in present
        ]
        run(connection, ";\n".join(said))


_PRESENT = "SELECT table_name, column_name FROM duckdb_columns() WHERE NOT internal AND schema_name = 'main'"
