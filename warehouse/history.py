"""Validity and supersession: rows enter, are withdrawn, replaced or taken up again, always set-wise.

An imported row is *withdrawn* once its export was read again without it. Among the rows of one key that are not
withdrawn, the last by `schemas.keys.SUPERSESSION` is current; the others carry the export that replaced them.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import duckdb
import polars as pl

from schemas.describe import Description, describe
from schemas.keys import SUPERSESSION
from warehouse.own_tables import VALIDITY
from warehouse.sql import count_of, listed, quoted, run, same, scratch, staged

#: Columns of a result that tell when it held, not what it says.
RESULT_VALIDITY = ("valid_from_run", "valid_to_run")


@dataclass(frozen=True)
class _Change:
    """Temporary tables of one exchange: `gone` holds row identities and keys, `fresh` whole rows."""

    gone: str
    fresh: str


def content(description: Description) -> list[str]:
    """Return the columns that say what a row states: all but those of its validity."""
    return [column.name for column in description.columns if column.name not in RESULT_VALIDITY]


def shaped(frame: pl.DataFrame, description: Description) -> pl.DataFrame:
    """Bring a frame to the content columns and types of a record.

    A column the frame lacks is null throughout; a value that does not fit its type raises.
    """
    schema = {name: dtype for name, dtype in description.schema().items() if name not in RESULT_VALIDITY}
    if frame.width == 0:
        return pl.DataFrame(schema=schema)
    lacking = [pl.lit(None, dtype).alias(name) for name, dtype in schema.items() if name not in frame.columns]
    return frame.with_columns(lacking).select(pl.col(name).cast(dtype) for name, dtype in schema.items())


def store_rows(
    connection: duckdb.DuckDBPyConnection, name: str, frame: pl.DataFrame, exports: str, run_id: int
) -> None:
    """Make the rows of these exports in a record's table what `frame` says, then settle what is current.

    Parameters
    ----------
    name
        An imported record kept as a table.
    frame
        All its accepted rows of these exports.
    exports
        Relation with a column `export_hash`: the exports that were read.
    run_id
        Run in which the rows that enter or leave do so.
    """
    description = describe(name)
    table, columns = quoted(name), content(description)
    earlier = (
        f"(SELECT *, rowid AS r FROM {table} SEMI JOIN {exports} AS e USING (export_hash) WHERE withdrawn_run IS NULL)"
    )
    with staged(connection, shaped(frame, description).unique()) as new:
        match = same("o", "n", columns)
        gone = f"SELECT o.r, {listed(description.ties.key, 'o.')} FROM {earlier} AS o ANTI JOIN {new} AS n ON {match}"
        fresh = f"SELECT {listed(columns, 'n.')} FROM {new} AS n ANTI JOIN {earlier} AS o ON {match}"
        with scratch(connection, gone) as gone_rows, scratch(connection, fresh) as fresh_rows:
            _exchange(connection, description, _Change(gone_rows, fresh_rows), run_id)


def _exchange(connection: duckdb.DuckDBPyConnection, description: Description, change: _Change, run_id: int) -> None:
    table, columns, key = quoted(description.name), content(description), listed(description.ties.key)
    run(
        connection,
        f"UPDATE {table} SET withdrawn_run = $1, valid_to_run = coalesce(valid_to_run, $1) "
        f"FROM {change.gone} AS g WHERE {table}.rowid = g.r",
        [run_id],
    )
    run(connection, f"INSERT INTO {table} SELECT {listed(columns)}, $1, NULL, NULL, NULL FROM {change.fresh}", [run_id])
    touched = f"SELECT {key} FROM {change.gone} UNION SELECT {key} FROM {change.fresh}"
    with scratch(connection, touched) as keys:
        if count_of(connection, f"SELECT count(*) FROM {keys}"):
            _supersede(connection, description, keys, run_id)


def _order(description: Description) -> str:
    """Return the ORDER BY that puts the current row of a key first; whole rows decide, so it never depends on luck."""
    rest = [name for name in content(description) if name not in SUPERSESSION]
    terms = ["coalesce(issued_at, stated_at)" if name == "issued_at" else quoted(name) for name in SUPERSESSION]
    return ", ".join(f"{term} DESC NULLS LAST" for term in [*terms, *map(quoted, rest)])


def _supersede(connection: duckdb.DuckDBPyConnection, description: Description, keys: str, run_id: int) -> None:
    table, columns, key = quoted(description.name), content(description), description.ties.key
    ranked = f"""
        SELECT t.rowid AS r, t.valid_to_run IS NULL AS is_open, row_number() OVER ranking AS rank_no,
               first_value(t.export_hash) OVER ranking AS winner
        FROM {table} AS t SEMI JOIN {keys} AS k ON {same("t", "k", key)}
        WHERE t.withdrawn_run IS NULL
        WINDOW ranking AS (PARTITION BY {listed(key)} ORDER BY {_order(description)})
        """
    with scratch(connection, ranked) as places:
        run(
            connection,
            f"UPDATE {table} SET valid_to_run = $1, superseded_by = p.winner "
            f"FROM {places} AS p WHERE {table}.rowid = p.r AND p.rank_no > 1 AND p.is_open",
            [run_id],
        )
        reopened = f"{places} AS p WHERE {table}.rowid = p.r AND p.rank_no = 1 AND NOT p.is_open"
        run(
            connection,
            f"INSERT INTO {table} SELECT {listed(columns, f'{table}.')}, $1, NULL, NULL, NULL FROM {table}, {reopened}",
            [run_id],
        )
        run(connection, f"UPDATE {table} SET withdrawn_run = $1 FROM {reopened}", [run_id])


def replace_rows(
    connection: duckdb.DuckDBPyConnection, name: str, frame: pl.DataFrame, scope: str, run_id: int
) -> None:
    """Make the current results within a scope what `frame` says; equal rows stay untouched.

    Parameters
    ----------
    name
        A result with `valid_from_run` and `valid_to_run`.
    frame
        All rows that hold now within the scope.
    scope
        Condition on the table's columns.
    run_id
        Run that closes what no longer holds and opens what is new.
    """
    description = describe(name)
    table, columns = quoted(name), content(description)
    current = f"(SELECT *, rowid AS r FROM {table} WHERE valid_to_run IS NULL AND ({scope}))"
    with staged(connection, shaped(frame, description).unique()) as new:
        match = same("o", "n", columns)
        gone = f"SELECT o.r FROM {current} AS o ANTI JOIN {new} AS n ON {match}"
        fresh = f"SELECT {listed(columns, 'n.')} FROM {new} AS n ANTI JOIN {current} AS o ON {match}"
        with scratch(connection, gone) as gone_rows, scratch(connection, fresh) as fresh_rows:
            run(
                connection,
                f"UPDATE {table} SET valid_to_run = $1 FROM {gone_rows} AS g WHERE {table}.rowid = g.r",
                [run_id],
            )
            names = listed([*columns, *RESULT_VALIDITY])
            run(
                connection,
                f"INSERT INTO {table} ({names}) SELECT {listed(columns)}, $1, NULL FROM {fresh_rows}",
                [run_id],
            )


def replace_of(
    connection: duckdb.DuckDBPyConnection,
    name: str,
    frame: pl.DataFrame,
    subjects: pl.DataFrame,
    run_id: int,
    *,
    where: str = "TRUE",
) -> None:
    """Make the current results of these subjects what `frame` says; runs in the open transaction.

    Parameters
    ----------
    subjects
        What was computed anew, by the columns that identify it, such as `project_id`, `mix_id`.
    where
        Further condition on the rows concerned, of the program's own making.
    """
    with staged(connection, subjects.unique()) as chosen:
        match = same("s", quoted(name), subjects.columns)
        scope = f"EXISTS (SELECT 1 FROM {chosen} AS s WHERE {match}) AND ({where})"
        replace_rows(connection, name, frame, scope, run_id)


def changed(name: str, run_id: int) -> str:
    """Return the condition that a row of an imported record entered or left in a run."""
    columns: Sequence[str] = [column.name for column in VALIDITY if column.name.endswith("_run")]
    return "(" + " OR ".join(f"{quoted(name)}.{quoted(column)} = {int(run_id)}" for column in columns) + ")"
