"""connect() and query(): the published copy, read-only, without files, network or extensions, within limits."""

import threading
from pathlib import Path

import duckdb
import polars as pl

from warehouse import as_of as history
from warehouse import migrations, publish, series_views
from warehouse.errors import NotPublishedError, QueryRefusedError
from warehouse.sql import literal, run
from warehouse.views import create

#: Most memory a reader's query may take, and most room on disk for what does not fit.
MEMORY_LIMIT = "1GB"
_SPILL_LIMIT = "1GB"

_CONFIGURATION: dict[str, str | bool | int | float | list[str]] = {
    "access_mode": "read_only",
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
    "allow_community_extensions": "false",
    "allow_persistent_secrets": "false",
    "python_enable_replacements": "false",
    "memory_limit": MEMORY_LIMIT,
    "max_temp_directory_size": _SPILL_LIMIT,
    "threads": "2",
}

#: Rows fetched at a time.
_BATCH = 100_000

_ONE_SELECT = "Ask one question at a time, as a single SELECT; the published warehouse is for reading only."


def connect(workspace: Path | str, as_of: str | None = None) -> duckdb.DuckDBPyConnection:
    """Open the published warehouse of a workspace for reading.

    Beside the tables and views of the store it has the long series as views, in millimetres. The connection keeps the
    state it was opened on, however often is published meanwhile. It reaches no file but the parts of the long series,
    no network and no extension, and its settings are locked.

    Parameters
    ----------
    workspace
        Folder of the workspace.
    as_of
        Show everything as it was known then: at the end of a day (`2026-05-03`), at a time (UTC), or after a run
        (its number).

    Raises
    ------
    NotPublishedError
        When nothing was published there, or a part of a long series is gone.
    StoreVersionError
        When a newer mixledger wrote it.
    QueryRefusedError
        When nothing was known yet at `as_of`, or it is no moment.
    """
    workspace = Path(workspace)
    connection = _open_newest(workspace)
    try:
        migrations.pending(connection)
        if as_of is not None:
            history.look_back(connection, as_of)
        _prepare(connection, (workspace / "series").absolute())
    except BaseException:
        connection.close()
        raise
    return connection


def _open_newest(workspace: Path) -> duckdb.DuckDBPyConnection:
    """Open the copy the pointer names; where two publications overtake that, open the one it names by then."""
    missed: Path | None = None
    while True:
        path = publish.published(workspace / "store")
        if path is None:
            raise NotPublishedError(
                f"No warehouse has been published in '{workspace}'.",
                "Check the folder, and run the pipeline in it once its inbox holds an export.",
            )
        try:
            return _open(path.absolute())
        except NotPublishedError:
            if path == missed:
                raise
            missed = path


def _open(path: Path) -> duckdb.DuckDBPyConnection:
    try:
        return duckdb.connect(str(path), config=_CONFIGURATION)
    except duckdb.IOException as fault:
        raise NotPublishedError(
            f"The published warehouse '{path.name}' cannot be opened.", "Try again; if it stays so, run the pipeline."
        ) from fault


def _prepare(connection: duckdb.DuckDBPyConnection, folder: Path) -> None:
    _confine(connection, folder)
    try:
        for view in series_views.of(connection, folder):
            create(connection, view, "TEMP VIEW")
    except duckdb.IOException as fault:
        raise NotPublishedError(
            f"A part of the long series is missing below '{folder}'.",
            "Restore the folder, or run `mixledger rebuild`: it makes both anew from the kept exports.",
        ) from fault


def _confine(connection: duckdb.DuckDBPyConnection, folder: Path) -> None:
    # Connections of one process to one file share their settings: those of the second are locked already.
    if connection.execute("SELECT current_setting('lock_configuration')").fetchall()[0][0]:
        return
    run(connection, f"SET allowed_directories = [{literal(folder.as_posix())}]")
    run(connection, "SET enable_external_access = false")
    run(connection, "SET lock_configuration = true")


def query(connection: duckdb.DuckDBPyConnection, sql: str, limit: int | None, seconds: float) -> pl.DataFrame:
    """Answer a question a user typed, within limits of rows and time.

    Parameters
    ----------
    connection
        As given by `connect`.
    sql
        One SELECT statement. It is not trusted.
    limit
        Most rows to return; None for all of them.
    seconds
        Longest time it may take.

    Raises
    ------
    QueryRefusedError
        When it is not a single SELECT, reaches for what is forbidden, takes too long or cannot be answered.
    """
    _check_single_select(connection, sql)
    timer = threading.Timer(seconds, connection.interrupt)
    timer.start()
    try:
        return _first_rows(connection, sql, limit)
    except duckdb.Error as fault:
        raise _refused(fault, seconds) from fault
    finally:
        timer.cancel()
        timer.join()


def _first_rows(connection: duckdb.DuckDBPyConnection, sql: str, limit: int | None) -> pl.DataFrame:
    """Run the query as it stands and stop it once there are rows enough; a LIMIT around it would trip over its `;`."""
    import pyarrow as pa

    relation = connection.sql(sql)
    if relation is None:
        raise QueryRefusedError("The query gives no rows.", _ONE_SELECT)
    repeated = sorted({name for name in relation.columns if relation.columns.count(name) > 1})
    if repeated:
        raise QueryRefusedError(
            f"The query has more than one column called '{repeated[0]}'.", "Tell them apart with AS, and ask again."
        )
    reader = relation.to_arrow_reader(_BATCH if limit is None else max(1, min(limit, _BATCH)))
    batches, count = [], 0
    for batch in reader:
        batches.append(batch)
        count += batch.num_rows
        if limit is not None and count >= limit:
            break
    rows = pl.DataFrame(pa.Table.from_batches(batches, schema=reader.schema))
    reader.close()
    return rows if limit is None else rows.head(limit)


def _check_single_select(connection: duckdb.DuckDBPyConnection, sql: str) -> None:
    try:
        found = connection.extract_statements(sql)
    except duckdb.Error as fault:
        raise _refused(fault, 0) from fault
    if len(found) != 1:
        raise QueryRefusedError(f"The query consists of {len(found)} statements.", _ONE_SELECT)
    if found[0].type != duckdb.StatementType.SELECT:
        raise QueryRefusedError(f"The query is no SELECT but a statement of kind {found[0].type.name}.", _ONE_SELECT)


def _refused(fault: duckdb.Error, seconds: float) -> QueryRefusedError:
    if isinstance(fault, duckdb.InterruptException):
        return QueryRefusedError(
            f"The query took longer than {seconds:g} s and was stopped.",
            "Ask for fewer samples or a shorter period, or raise the time limit.",
        )
    if isinstance(fault, duckdb.PermissionException):
        return QueryRefusedError(
            "The query reaches for a file, the network or an extension, which queries may not.",
            "Use the tables and views of the warehouse.",
        )
    if isinstance(fault, duckdb.OutOfMemoryException):
        return QueryRefusedError(
            f"The query needs more than {MEMORY_LIMIT} of memory.", "Ask for fewer samples or a shorter period."
        )
    first_line = str(fault).partition("\n")[0]
    return QueryRefusedError(f"The query cannot be answered: {first_line}", "Correct it and ask again.")
