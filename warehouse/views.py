"""View files: header and dependencies -> creation order, comments; and the wide view of sample results."""

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path
from typing import Any

import duckdb

from schemas.describe import ColumnDescription
from warehouse import ddl
from warehouse.own_tables import PROPERTY_COLUMN
from warehouse.sql import fetch, listed, literal, quoted, run

_FOLDER = Path(__file__).parent / "views"
_PARTS = ("purpose", "grain", "cautions", "columns")
_STATE = "views"

#: The wide view whose columns the caller's catalogue gives.
WIDE = "sample_results"


class ViewHeaderError(ValueError):
    """A view file whose header is not complete: a fault of this program, found by its tests."""


@dataclass(frozen=True)
class View:
    """One relation: its query, and what its header says of it and of each column."""

    name: str
    query: str
    purpose: str
    grain: str
    cautions: str
    columns: Mapping[str, str]

    def comment(self) -> str:
        """Return the comment of the view as a whole."""
        return f"{self.purpose} One row per {self.grain}. Cautions: {self.cautions}"


def _referred(text: str) -> str:
    """Return the sentence of a column line; `= table.column` takes it from that table, where it is written once."""
    if not text.startswith("= "):
        return text
    table_name, column_name = text[2:].split(".")
    return ddl.comment(_column(table_name, column_name))


@cache
def _column(table_name: str, column_name: str) -> ColumnDescription:
    for table in ddl.tables():
        if table.name == table_name:
            for column in ddl.columns(table):
                if column.name == column_name:
                    return column
    raise ViewHeaderError(f"a view header refers to {table_name}.{column_name}, which no table has")


def parse(name: str, text: str) -> View:
    """Split a view file into header and query.

    The header is a block of comment lines: `purpose:`, `grain:`, `cautions:`, then `columns:` with a line
    `column: sentence` each, the sentence being `= table.column` where a table already says it.
    """
    lines = text.splitlines()
    count = next((at for at, line in enumerate(lines) if not line.startswith("--")), len(lines))
    found: dict[str, str] = {}
    columns: dict[str, str] = {}
    for line in lines[:count]:
        key, _, value = line.removeprefix("--").strip().partition(":")
        if line.startswith("--   "):
            columns[key] = _referred(value.strip())
        elif key in _PARTS:
            found[key] = value.strip()
        else:
            raise ViewHeaderError(f"view '{name}': header line not understood: {line}")
    missing = [part for part in _PARTS if part not in found]
    if missing:
        raise ViewHeaderError(f"view '{name}': the header lacks {', '.join(missing)}")
    query = "\n".join(lines[count:]).strip()
    return View(name, query, found["purpose"], found["grain"], found["cautions"], columns)


def shipped() -> list[View]:
    """Return the views written as files, by name."""
    return [parse(path.stem, path.read_text(encoding="utf-8")) for path in sorted(_FOLDER.glob("*/*.sql"))]


def wide(connection: duckdb.DuckDBPyConnection, register: View) -> View:
    """Return the view of sample results: the register's columns, then one per property of the catalogue."""
    catalogue = fetch(connection, f"SELECT {listed(PROPERTY_COLUMN.schema())} FROM property_column")
    columns = dict(register.columns)
    terms = []
    for row in catalogue.iter_rows(named=True):
        at = '"point" IS NULL' if row["point"] is None else f'"point" = {row["point"]!r}'
        term = f"max(value) FILTER (property = {literal(row['property'])} AND {at})"
        terms.append(f"{term} AS {quoted(row['column_name'])}")
        columns[row["column_name"]] = row["sentence"] + (f" Unit: {row['unit']}." if row["unit"] else "")
    figures = ", ".join(["sample_id", *terms])
    pivoted = f"SELECT {figures} FROM property_value WHERE valid_to_run IS NULL AND level = 'sample' GROUP BY sample_id"
    joined = (
        f"SELECT r.*, f.* EXCLUDE (sample_id) FROM {register.name} AS r LEFT JOIN ({pivoted}) AS f USING (sample_id)"
    )
    query = joined if terms else f"SELECT * FROM {register.name}"
    return View(
        WIDE,
        query,
        "Results of each sample side by side: what the register says of it, then one column per property.",
        "sample of the register",
        "A figure that is missing or withheld is null; `missing_values` tells why. Unrounded.",
        columns,
    )


def _named_tables(node: Any) -> Iterator[str]:
    if isinstance(node, dict):
        if node.get("type") == "BASE_TABLE":
            yield node["table_name"]
        for value in node.values():
            yield from _named_tables(value)
    elif isinstance(node, list):
        for value in node:
            yield from _named_tables(value)


def _named_ctes(node: Any) -> Iterator[str]:
    if isinstance(node, dict):
        yield from (entry["key"] for entry in node.get("cte_map", {}).get("map", ()))
        for value in node.values():
            yield from _named_ctes(value)
    elif isinstance(node, list):
        for value in node:
            yield from _named_ctes(value)


def depends(connection: duckdb.DuckDBPyConnection, query: str) -> set[str]:
    """Return the relations a query reads, by DuckDB's own parser."""
    row = connection.execute("SELECT json_serialize_sql(?)", [query]).fetchall()[0]
    tree = json.loads(row[0])
    if tree["error"]:
        raise ViewHeaderError(f"a view's query is not a SELECT: {tree.get('error_message')}")
    return set(_named_tables(tree["statements"])) - set(_named_ctes(tree["statements"]))


def ordered(connection: duckdb.DuckDBPyConnection, views: list[View]) -> list[View]:
    """Return the views so that each comes after those it reads."""
    by_name = {view.name: view for view in views}
    graph = {view.name: depends(connection, view.query) & (by_name.keys() - {view.name}) for view in views}
    return [by_name[name] for name in TopologicalSorter(graph).static_order()]


def create(connection: duckdb.DuckDBPyConnection, view: View, kind: str = "VIEW") -> None:
    """Create a view with its comments.

    Raises
    ------
    ViewHeaderError
        When its columns are not those of the header.
    """
    name = quoted(view.name)
    run(connection, f"CREATE OR REPLACE {kind} {name} AS {view.query}")
    columns = fetch(connection, f"SELECT * FROM {name} LIMIT 0").columns
    if columns != list(view.columns):
        odd = sorted(set(columns) ^ set(view.columns)) or columns
        raise ViewHeaderError(
            f"view '{view.name}': header and query differ in columns or their order: {', '.join(odd)}"
        )
    run(connection, f"COMMENT ON VIEW {name} IS {literal(view.comment())}")
    for column, sentence in view.columns.items():
        run(connection, f"COMMENT ON COLUMN {name}.{quoted(column)} IS {literal(sentence)}")


def _state(views: list[View]) -> str:
    told = [(view.name, view.query, view.comment(), list(view.columns.items())) for view in views]
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()


def refresh(connection: duckdb.DuckDBPyConnection) -> bool:
    """Create all views anew if any of them changed; return whether one did. Runs in the open transaction."""
    files = shipped()
    views = [*files, wide(connection, next(view for view in files if view.name == "samples"))]
    state = _state(views)
    kept = connection.execute("SELECT value FROM store_state WHERE name = ?", [_STATE]).fetchall()
    if kept and kept[0][0] == state:
        return False
    present = fetch(connection, "SELECT view_name FROM duckdb_views() WHERE NOT internal AND NOT temporary").to_series()
    for name in present:
        run(connection, f"DROP VIEW IF EXISTS {quoted(name)}")
    for view in ordered(connection, views):
        create(connection, view)
    run(connection, "DELETE FROM store_state WHERE name = ?", [_STATE])
    run(connection, "INSERT INTO store_state (name, value) VALUES (?, ?)", [_STATE, state])
    return True
