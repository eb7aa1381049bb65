"""Version 1: every record kept as a table, and the store's own tables."""

import duckdb

from warehouse import ddl
from warehouse.sql import run


def apply(connection: duckdb.DuckDBPyConnection) -> None:
    """Create all tables, with their comments."""
    for table in ddl.tables():
        for statement in ddl.statements(table):
            run(connection, statement)
