"""Forward-only migrations: an empty store begins at the newest version, an older one is brought there on demand."""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib import import_module
from pkgutil import iter_modules

import duckdb

from warehouse import additions, ddl
from warehouse.errors import StoreVersionError
from warehouse.sql import count_of, fetch, quoted, run

_NAME = re.compile(r"(\d{4})_\w+")


@dataclass(frozen=True)
class Migration:
    """One step from a version of the store to the next."""

    number: int
    name: str
    apply: Callable[[duckdb.DuckDBPyConnection], None]


def known() -> list[Migration]:
    """Return every migration of this program, in order; they are found by their module's number."""
    found = []
    for module_info in iter_modules(__path__):
        match = _NAME.fullmatch(module_info.name)
        if match:
            module = import_module(f"{__name__}.{module_info.name}")
            found.append(Migration(int(match[1]), module_info.name, module.apply))
    return sorted(found, key=lambda migration: migration.number)


def reached(connection: duckdb.DuckDBPyConnection) -> int:
    """Return the number of the last migration the store has been through; 0 for an empty store."""
    exists = count_of(
        connection,
        "SELECT count(*) FROM duckdb_tables() "
        "WHERE table_name = 'migration' AND schema_name = 'main' AND NOT temporary",
    )
    return count_of(connection, "SELECT coalesce(max(number), 0) FROM migration") if exists else 0


def pending(connection: duckdb.DuckDBPyConnection) -> list[Migration]:
    """Return the migrations the store still has to go through, in order.

    Raises
    ------
    StoreVersionError
        When the store has been through a migration this program does not know.
    """
    migrations, number = known(), reached(connection)
    newest = migrations[-1].number
    if number > newest:
        raise StoreVersionError(
            f"The store is at version {number}, this mixledger knows versions up to {newest}.",
            "Install the newer mixledger that wrote it; the store was left as it is.",
        )
    return [migration for migration in migrations if migration.number > number]


def begin(connection: duckdb.DuckDBPyConnection) -> None:
    """Make the tables of an empty store as the schemas describe them; it starts at the newest version."""
    with _transaction(connection):
        for table in ddl.tables():
            run(connection, ";\n".join(ddl.statements(table)))
        for migration in known():
            _record(connection, migration)


def owed(connection: duckdb.DuckDBPyConnection) -> list[str]:
    """Say what `upgrade` would do, one sentence each; nothing where the store is up to date.

    Raises
    ------
    StoreVersionError
        When the store has been through a migration this program does not know.
    """
    steps = [f"migration {migration.name}" for migration in pending(connection)]
    return steps + [f"table '{table.name}' differs from the schemas" for table in additions.tables(connection)]


def upgrade(connection: duckdb.DuckDBPyConnection) -> list[str]:
    """Bring a store to this version, all in one transaction, and say what was done; a fault leaves it as it was.

    Views are dropped, for they may name what changes; they are made anew when the store is opened.

    Raises
    ------
    StoreVersionError
        When a newer program wrote it, or it still does not fit the schemas afterwards.
    """
    todo = pending(connection)
    with _transaction(connection):
        for name in fetch(connection, _VIEWS).to_series():
            run(connection, f"DROP VIEW IF EXISTS {quoted(name)}")
        for migration in todo:
            migration.apply(connection)
            _record(connection, migration)
        added = additions.add(connection)
        run(connection, "DELETE FROM store_state WHERE name IN ('views', 'macros')")
        _fits(connection)
    return [f"migration {migration.name}" for migration in todo] + added


def _fits(connection: duckdb.DuckDBPyConnection) -> None:
    if found := ddl.differences(connection):
        raise StoreVersionError(
            f"The store does not fit the schemas of this mixledger: {found[0]} ({len(found)} differences).",
            "Run `mixledger rebuild`: it makes the store anew from the kept exports.",
        )


_VIEWS = "SELECT view_name FROM duckdb_views() WHERE NOT internal AND NOT temporary"


def _record(connection: duckdb.DuckDBPyConnection, migration: Migration) -> None:
    now = datetime.now(UTC).replace(tzinfo=None)
    run(connection, "INSERT INTO migration VALUES (?, ?, ?)", [migration.number, migration.name, now])


@contextmanager
def _transaction(connection: duckdb.DuckDBPyConnection) -> Iterator[None]:
    connection.begin()
    try:
        yield
    except BaseException:
        connection.rollback()
        raise
    connection.commit()
