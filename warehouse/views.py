"""All views of the store: from files and made from the catalogue, in the order they depend on, with comments."""

import hashlib
import json
from collections.abc import Iterator
from graphlib import TopologicalSorter
from typing import Any

import duckdb

from warehouse import as_of, lineage, made_views
from warehouse.sql import fetch, literal, quoted, run
from warehouse.view import FOLDER, View, ViewHeaderError, parse

__all__ = [
    "View",
    "ViewHeaderError",
    "all_of",
    "check",
    "create",
    "depends",
    "ordered",
    "parse",
    "refresh",
    "refresh_macros",
    "shipped",
]

#: Names under which the store remembers which views and macros it has.
_VIEWS, _MACROS = "views", "macros"


def shipped() -> list[View]:
    """Return the views written as files, by name."""
    paths = sorted(FOLDER.glob("*/*.sql"))
    return [parse(path.stem, path.read_text(encoding="utf-8"), path.parent.name) for path in paths]


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
    """Create a view with its comments; `check` says whether these are all."""
    name = quoted(view.name)
    comments = [f"COMMENT ON VIEW {name} IS {literal(view.comment())}"]
    comments += [f"COMMENT ON COLUMN {name}.{quoted(key)} IS {literal(said)}" for key, said in view.columns.items()]
    run(connection, f"CREATE OR REPLACE {kind} {name} AS {view.query}")
    run(connection, ";\n".join(comments))


def check(connection: duckdb.DuckDBPyConnection, view: View) -> None:
    """Hold the header of a view that was created against its query.

    Raises
    ------
    ViewHeaderError
        When its columns are not those of the header, in their order.
    """
    columns = fetch(connection, f"SELECT * FROM {quoted(view.name)} LIMIT 0").columns
    if columns != list(view.columns):
        odd = sorted(set(columns) ^ set(view.columns)) or columns
        raise ViewHeaderError(
            f"view '{view.name}': header and query differ in columns or their order: {', '.join(odd)}"
        )


def all_of(connection: duckdb.DuckDBPyConnection) -> list[View]:
    """Return every view a store with this catalogue has."""
    files = shipped()
    register = next(view for view in files if view.name == "samples")
    return [*files, *made_views.all_of(connection, register)]


def _told(views: list[View]) -> str:
    told = [(view.name, view.query, view.comment(), list(view.columns.items())) for view in views]
    return hashlib.sha256(json.dumps([told, as_of.VERSION, lineage.VERSION]).encode()).hexdigest()


def _holds(connection: duckdb.DuckDBPyConnection, name: str, state: str) -> bool:
    kept = connection.execute("SELECT value FROM store_state WHERE name = ?", [name]).fetchall()
    return bool(kept) and kept[0][0] == state


def _keep(connection: duckdb.DuckDBPyConnection, name: str, state: str) -> None:
    run(connection, "DELETE FROM store_state WHERE name = ?", [name])
    run(connection, "INSERT INTO store_state (name, value) VALUES (?, ?)", [name, state])


def refresh(connection: duckdb.DuckDBPyConnection) -> bool:
    """Create all views anew if any of them changed; return whether one did. Runs in the open transaction."""
    views = all_of(connection)
    state = _told(views)
    if _holds(connection, _VIEWS, state):
        return False
    present = fetch(connection, "SELECT view_name FROM duckdb_views() WHERE NOT internal AND NOT temporary").to_series()
    for name in present:
        run(connection, f"DROP VIEW IF EXISTS {quoted(name)}")
    for view in ordered(connection, views):
        create(connection, view)
    _keep(connection, _VIEWS, state)
    return True


def refresh_macros(connection: duckdb.DuckDBPyConnection) -> None:
    """Create the macros readers use if views have changed since; they are made late, for that takes longest."""
    state = connection.execute("SELECT value FROM store_state WHERE name = ?", [_VIEWS]).fetchall()[0][0]
    if _holds(connection, _MACROS, state):
        return
    views = all_of(connection)
    as_of.create_macros(connection, views, {view.name: depends(connection, view.query) for view in views})
    lineage.create_macros(connection)
    _keep(connection, _MACROS, state)
