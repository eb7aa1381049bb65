"""Corrections: rows of records that stopped counting in a run, and what differs in those that took their place."""

import duckdb

from schemas.describe import Description
from warehouse import subjects
from warehouse.own_tables import RECORD_CHANGE
from warehouse.sql import count_of, listed, literal, quoted, run, same


def _said(description: Description) -> str:
    """Return the expression that says which columns differ between rows `o` and `n`, in words."""
    stated = [name for name in description.schema() if name not in (*description.ties.key, *subjects.PROVENANCE)]
    told = (
        f"CASE WHEN o.{quoted(name)} IS DISTINCT FROM n.{quoted(name)} THEN {literal(name + ' ')} || "
        f"coalesce(o.{quoted(name)}::VARCHAR, 'none') || ' -> ' || coalesce(n.{quoted(name)}::VARCHAR, 'none') END"
        for name in stated
    )
    return f"nullif(concat_ws('; ', {', '.join(told)}), '')"


def _changes_of(description: Description) -> str:
    table = quoted(description.name)
    first = quoted(description.ties.key[0])
    closed = f"SELECT * FROM {table} WHERE valid_to_run = $1 AND valid_from_run < $1"
    about = ", ".join(subjects.or_null(description, name, "o.") for name in subjects.ALL)
    return f"""
        SELECT $1::BIGINT AS run_id, {literal(description.name)} AS record,
               {subjects.key_text(description, "o.")}, {about},
               CASE WHEN n.export_hash IS NULL THEN 'withdrawn' ELSE 'replaced' END AS change,
               CASE WHEN n.export_hash IS NOT NULL THEN {_said(description)} END AS differences,
               o.export_hash AS export_before, n.export_hash AS export_after
        FROM ({closed}) AS o
        LEFT JOIN (
            SELECT * FROM {table} WHERE valid_to_run IS NULL AND {first} IN (SELECT {first} FROM ({closed}))
        ) AS n
            ON {same("o", "n", description.ties.key)}"""


def record(connection: duckdb.DuckDBPyConnection, run_id: int) -> None:
    """Enter what stopped counting in a run that is about to be committed; once more if rows were put since."""
    run(connection, f"DELETE FROM {RECORD_CHANGE.name} WHERE run_id = ?", [run_id])
    columns = listed(RECORD_CHANGE.schema())
    for description in subjects.imported():
        closed = f"SELECT count(*) FROM {quoted(description.name)} WHERE valid_to_run = ? AND valid_from_run < ?"
        if count_of(connection, closed, [run_id, run_id]):
            query = f"INSERT INTO {RECORD_CHANGE.name} ({columns}) SELECT {columns} FROM ({_changes_of(description)})"
            run(connection, query, [run_id])
