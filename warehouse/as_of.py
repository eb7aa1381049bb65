"""The warehouse as it was known then: table macros for use inside SQL, and a connection that looks back as a whole."""

from collections.abc import Mapping

import duckdb

from schemas.describe import Description
from warehouse import ddl
from warehouse.errors import QueryRefusedError
from warehouse.sql import count_of, fetch, literal, quoted, run
from warehouse.view import View

#: Schema of the table macros.
SCHEMA = "as_of"

#: Counts up when the macros change though no view does.
VERSION = 1

#: Columns that say when a row stopped counting; what came later than the moment was not known then.
_ENDS = ("valid_to_run", "withdrawn_run")

_TEXT = "CAST(moment AS VARCHAR)"

#: Run whose state held at a moment: a run's own number, the end of a day, or a time (UTC).
_RUN_AT = f"""
    CASE
        WHEN TRY_CAST({_TEXT} AS BIGINT) IS NOT NULL THEN TRY_CAST({_TEXT} AS BIGINT)
        WHEN TRY_CAST({_TEXT} AS TIMESTAMP) IS NULL
            THEN error('no moment to look back to: ' || coalesce({_TEXT}, 'null') || '; give a day, a time or a run')
        ELSE (SELECT coalesce(max(run_id), 0) FROM main.run
              WHERE finished_at < TRY_CAST({_TEXT} AS TIMESTAMP)
                                  + CASE WHEN length({_TEXT}) <= 10 THEN INTERVAL 1 DAY ELSE INTERVAL 0 DAY END)
    END"""


def _dated(description: Description) -> bool:
    return any(column.name in ("valid_from_run", "run_id") for column in ddl.columns(description))


def _looking_back(description: Description, catalog: str, run_id: str) -> str:
    """Return the query for the rows of a table known after a run, as they were then."""
    source = f"{catalog}main.{quoted(description.name)}"
    names = [column.name for column in ddl.columns(description)]
    since = "valid_from_run" if "valid_from_run" in names else "run_id"
    terms = [f"CASE WHEN {name} <= {run_id} THEN {name} END AS {name}" for name in _ENDS if name in names]
    if "superseded_by" in names:
        terms.append(f"CASE WHEN valid_to_run <= {run_id} THEN superseded_by END AS superseded_by")
    replaced = f" REPLACE ({', '.join(terms)})" if terms else ""
    return f"SELECT *{replaced} FROM {source} WHERE {since} <= {run_id}"


def _needed(name: str, reads: Mapping[str, set[str]]) -> list[str]:
    """Return what a view rests on, each after what it rests on itself."""
    found: dict[str, None] = {}
    for each in sorted(reads.get(name, ())):
        found |= dict.fromkeys(_needed(each, reads))
        found[each] = None
    return list(found)


def create_macros(connection: duckdb.DuckDBPyConnection, views: list[View], reads: Mapping[str, set[str]]) -> None:
    """Create a table macro for every dated table and every view that rests on one, with comments.

    `FROM as_of.sample_results('2026-05-03')` gives what the view showed at the end of that day; a time (UTC) or the
    number of a run serves as well.
    """
    run(connection, f"DROP SCHEMA IF EXISTS {SCHEMA} CASCADE")
    run(connection, f"CREATE SCHEMA {SCHEMA}")
    run(connection, f"CREATE MACRO {SCHEMA}.run_at(moment) AS {_RUN_AT}")
    moment = f"{SCHEMA}.run_at(moment)"
    dated = {each.name: _looking_back(each, "", moment) for each in ddl.tables() if _dated(each)}
    for name, query in dated.items():
        _create(connection, name, query)
    queries = {view.name: view.query for view in views}
    for view in views:
        needed = _needed(view.name, reads)
        if not any(name in dated for name in needed):
            continue
        parts = [
            f"{quoted(name)} AS NOT MATERIALIZED ({dated.get(name) or queries[name]})"
            for name in needed
            if name in dated or name in queries
        ]
        _create(connection, view.name, f"WITH {', '.join(parts)} SELECT * FROM ({view.query})")


def _create(connection: duckdb.DuckDBPyConnection, name: str, query: str) -> None:
    run(connection, f"CREATE MACRO {SCHEMA}.{quoted(name)}(moment) AS TABLE {query}")
    said = f"`{name}` as it was known at a moment: the end of a day, a time (UTC), or the number of a run."
    run(connection, f"COMMENT ON MACRO TABLE {SCHEMA}.{quoted(name)} IS {literal(said)}")


def run_at(connection: duckdb.DuckDBPyConnection, moment: str) -> int:
    """Return the run whose state held at a moment.

    Raises
    ------
    QueryRefusedError
        When the moment is neither a run nor a date or time, or nothing was known by then.
    """
    try:
        found = count_of(connection, f"SELECT {SCHEMA}.run_at(?)", [moment])
    except duckdb.InvalidInputException:
        raise QueryRefusedError(
            f"'{moment}' is no moment to look back to.",
            "Give a day such as 2026-05-03, a time in UTC such as '2026-05-03 14:00', or the number of a run.",
        ) from None
    first, last = connection.execute("SELECT min(run_id), max(run_id) FROM run").fetchall()[0]
    if first is None or found < first or found > last:
        known = fetch(connection, "SELECT min(finished_at) AS day FROM run").item()
        told = f"Runs {first} to {last} are known, the first of {known:%Y-%m-%d %H:%M} UTC." if known else "Run first."
        raise QueryRefusedError(f"No run of this warehouse holds at '{moment}'.", told)
    return found


def look_back(connection: duckdb.DuckDBPyConnection, moment: str) -> int:
    """Make a reader's connection show the warehouse as it was known at a moment; return the run that held.

    Every dated table is hidden behind a temporary view of the same name; the views of the store, which name tables
    without their schema, follow. Catalogues of properties, flags and formulas are those of now.
    """
    run_id = run_at(connection, moment)
    catalog = quoted(connection.execute("SELECT current_database()").fetchall()[0][0]) + "."
    for description in ddl.tables():
        if _dated(description):
            name = quoted(description.name)
            run(connection, f"CREATE TEMP VIEW {name} AS {_looking_back(description, catalog, str(run_id))}")
            run(connection, f"COMMENT ON VIEW temp.main.{name} IS {literal(description.sentence)}")
            for column in ddl.columns(description):
                said = literal(ddl.comment(column))
                run(connection, f"COMMENT ON COLUMN temp.main.{name}.{quoted(column.name)} IS {said}")
    return run_id
