"""Forward-only migrations: what is pending, and applying it in one transaction with its record."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib import import_module
from pkgutil import iter_modules

import duckdb

from warehouse.errors import StoreVersionError
from warehouse.sql import count_of, run

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
        connection, "SELECT count(*) FROM duckdb_tables() WHERE table_name = 'migration' AND schema_name = 'main' AND NOT temporary"
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


def apply(connection: duckdb.DuckDBPyConnection) -> list[Migration]:
    """Apply what is pending, all in one transaction, and return it; a fault leaves the store as it was."""
    todo = pending(connection)
    if not todo:
        return []
    connection.begin()
    try:
        for migration in todo:
            migration.apply(connection)
            now = datetime.now(UTC).replace(tzinfo=None)
            run(connection, "INSERT INTO migration VALUES (?, ?, ?)", [migration.number, migration.name, now])
    except BaseException:
        connection.rollback()
        raise
    connection.commit()
    return todo
