"""The file of the working store: its name, and how it is opened; who holds it, or that it is damaged, is told."""

from pathlib import Path

import duckdb

from warehouse import lock
from warehouse.errors import StoreDamagedError

#: File of the working store, below the workspace's store folder.
WORKING_NAME = "working.duckdb"

_CONFIGURATION: dict[str, str | bool | int | float | list[str]] = {
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
    "python_enable_replacements": "false",
}


def connect(folder: Path) -> duckdb.DuckDBPyConnection:
    """Open the working store of a store folder; an empty one is made.

    Raises
    ------
    StoreBusyError
        When another process has it open.
    StoreDamagedError
        When the file is no store.
    """
    try:
        return duckdb.connect(str(folder / WORKING_NAME), config=_CONFIGURATION)
    except duckdb.IOException as fault:
        if "lock" in str(fault).lower() or "used by another process" in str(fault):
            raise lock.busy(folder) from fault
        raise _damaged(folder) from fault
    except (duckdb.SerializationException, duckdb.FatalException) as fault:
        raise _damaged(folder) from fault


def _damaged(folder: Path) -> StoreDamagedError:
    return StoreDamagedError(
        f"The working store '{folder / WORKING_NAME}' cannot be opened: it is damaged, or of a newer file format.",
        "Run `mixledger rebuild`: it makes the store anew from the kept exports. Readers go on meanwhile.",
    )
