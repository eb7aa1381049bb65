"""SQLite files: tables read from a copy in memory, never from the file itself; no view, trigger or code is run."""

import sqlite3
import time
from collections.abc import Sequence
from contextlib import closing

import polars as pl

from plugins.api import Refusing
from plugins.layout.document import plain_text
from plugins.layout.model import HEADER, Layout, TablePlan
from plugins.layout.section import near
from plugins.layout.tables import (
    Raw,
    Source,
    cell,
    chosen,
    gather,
    header_frame,
    header_needed,
    line_of,
    needed,
    stack,
    with_place,
)

#: First bytes of every SQLite file.
MAGIC = b"SQLite format 3\x00"

#: Most rows read of one table, and longest time one file may take, in seconds.
ROW_LIMIT = 2_000_000
TIME_LIMIT = 30.0

_WRITE_VERSION, _READ_VERSION, _WAL, _ROLLBACK = 18, 19, 2, 1
_ALLOWED = {sqlite3.SQLITE_SELECT, sqlite3.SQLITE_READ}


def read(layout: Layout, sources: Sequence[Source]) -> Raw:
    """Turn a batch of SQLite files into tables; row n of a table is the n-th in the order of its row numbers."""
    raw = Raw()
    headers: list[dict[str, object]] = []
    frames: dict[str, list[pl.DataFrame]] = {name: [] for name in layout.tables}
    for source in sources:
        try:
            with closing(open_copy(source.content)) as database:
                made = {name: _table(database, plan, layout, source) for name, plan in layout.tables.items()}
                header = _header(database, layout, source.index)
        except Refusing as refusing:
            raw.refused.append(refusing.row(source.export.hash))
            continue
        except sqlite3.Error as fault:
            reason = f"the database cannot be read: {fault}"
            raw.refused.append(Refusing("not_well_formed", reason).row(source.export.hash))
            continue
        headers.append(header)
        for name, frame in made.items():
            frames[name].append(frame)
    raw.tables[HEADER] = header_frame(headers, layout)
    for name in layout.tables:
        raw.tables[name] = stack(frames[name], needed(layout, name))
        raw.counts[name] = raw.tables[name].group_by("export").agg(pl.len().cast(pl.UInt32).alias("rows"))
    return raw


def open_copy(content: bytes) -> sqlite3.Connection:
    """Open a copy in memory that can do nothing but read tables, and not for ever.

    Raises
    ------
    Refusing
        `not_well_formed` or `truncated`.
    """
    if not content.startswith(MAGIC) or len(content) < 100:
        raise Refusing("not_well_formed", "this is not an SQLite file")
    page = int.from_bytes(content[16:18], "big")
    page = 65_536 if page == 1 else page
    pages = int.from_bytes(content[28:32], "big")
    if len(content) < page * pages:
        raise Refusing("truncated", f"the database declares {page * pages:,} bytes, {len(content):,} are there")
    copy = bytearray(content)
    if copy[_READ_VERSION] == _WAL:  # a copy in memory has no second file to look into
        copy[_WRITE_VERSION] = copy[_READ_VERSION] = _ROLLBACK
    database = sqlite3.connect(":memory:")
    database.deserialize(bytes(copy))
    database.execute("pragma trusted_schema = off")
    database.execute("pragma query_only = on")
    ends = time.monotonic() + TIME_LIMIT
    database.set_progress_handler(lambda: time.monotonic() > ends, 10_000)
    database.set_authorizer(lambda action, *_: sqlite3.SQLITE_OK if action in _ALLOWED else sqlite3.SQLITE_DENY)
    return database


def table_names(database: sqlite3.Connection) -> tuple[str, ...]:
    """Return the plain tables: no views, no virtual tables, for these run what the file says."""
    listing = "select name, sql from sqlite_master where type = 'table'"
    return tuple(
        name
        for name, sql in database.execute(listing)
        if not str(sql).lstrip().lower().startswith("create virtual") and not name.startswith("sqlite_")
    )


def rows_of(database: sqlite3.Connection, name: str) -> tuple[tuple[str, ...], list[tuple[object, ...]]]:
    """Return columns and rows of a table, in the order of its row numbers."""
    known = table_names(database)
    if name not in known:
        has = ", ".join(known)[:200]
        raise Refusing("missing_table", f"the database has no table '{name}'{near(name, known)}; it has {has}")
    quoted = '"' + name.replace('"', '""') + '"'
    try:
        found = database.execute(f"select * from {quoted} order by rowid limit {ROW_LIMIT + 1}")
    except sqlite3.OperationalError:  # a table without row numbers stands in the order of its key
        found = database.execute(f"select * from {quoted} limit {ROW_LIMIT + 1}")
    rows = found.fetchall()
    if len(rows) > ROW_LIMIT:
        raise Refusing("too_large", f"the table '{name}' has more than {ROW_LIMIT:,} rows")
    return tuple(column[0] for column in found.description), rows


def _text(value: object) -> str | None:
    return value.decode("utf-8", "replace") if isinstance(value, bytes) else plain_text(value)


def _table(database: sqlite3.Connection, plan: TablePlan, layout: Layout, source: Source) -> pl.DataFrame:
    name = plan.rows or plan.name
    if plan.optional and name not in table_names(database):
        return stack([], needed(layout, plan.name))
    names, rows = rows_of(database, name)
    used = chosen(layout, plan, names, f"table '{name}'")
    columns = {
        cell(column): pl.Series([_text(row[place]) for row in rows], dtype=pl.String) for place, column in used.items()
    }
    line = pl.Series(range(1, len(rows) + 1), dtype=pl.Int64)
    return gather(with_place(pl.DataFrame({"line": line, **columns}), source.index, name), plan)


def _header(database: sqlite3.Connection, layout: Layout, index: int) -> dict[str, object]:
    row: dict[str, object] = {"export": index, "line": 1, "part": None}
    settings = layout.header.settings
    if settings is None:
        return row
    names, rows = rows_of(database, settings.table)
    for wanted in (settings.name, settings.value):
        if wanted not in names:
            reason = f"table '{settings.table}' lacks the column '{wanted}'{near(wanted, names)}"
            raise Refusing("missing_column", reason, column_name=wanted)
    key_at, value_at = names.index(settings.name), names.index(settings.value)
    known = header_needed(layout)
    for line, found in enumerate(rows, start=1):
        key = str(found[key_at])
        if key not in known:
            continue
        if cell(key) in row:
            raise Refusing("duplicate", f"table '{settings.table}', row {line}: '{key}' is given twice")
        row |= {cell(key): _text(found[value_at]), line_of(key): line}
    return row
