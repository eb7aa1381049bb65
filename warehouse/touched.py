"""Which samples a run touched: whose rows, mix, project, instruments, lot companions or limits changed."""

from collections.abc import Iterable

import duckdb
import polars as pl

from schemas.describe import Description, describe_all
from warehouse import series
from warehouse.history import changed
from warehouse.sql import fetch, quoted, same, staged

_HASH = {"export_hash": pl.String}


def _tables_with(column: str) -> list[Description]:
    return [
        each for each in describe_all() if each.imported and each.ties.storage == "table" and column in each.schema()
    ]


def _union(queries: Iterable[str]) -> str:
    return " UNION ".join(queries)


def _changed(column: str, run_id: int, without: str | None = None) -> str:
    """Return the query for the values of a column in all rows that entered or left."""
    tables = [each.name for each in _tables_with(column) if without is None or without not in each.schema()]
    return _union(f"SELECT {column} FROM {quoted(name)} WHERE {changed(name, run_id)}" for name in tables)


def _on_instruments() -> str:
    """Return the query for samples whose current rows name an instrument that changed."""
    tables = [each.name for each in _tables_with("instrument_id") if "sample_id" in each.schema()]
    return _union(
        f"SELECT sample_id FROM {quoted(name)} WHERE valid_to_run IS NULL AND instrument_id IN (FROM instruments)"
        for name in tables
    )


def _of_series(run_id: int, reread: str) -> str:
    """Return the query for samples whose long series came anew, though their header row may be the same."""
    imported = [each for each in series.records() if each.imported]
    return _union(
        f"""
        SELECT h.sample_id FROM {quoted(each.ties.header or "")} AS h
        WHERE h.valid_to_run IS NULL AND (
            h.export_hash IN (SELECT export_hash FROM {reread})
            OR h.export_hash IN (SELECT e.export_hash FROM series_export AS e
                                 WHERE e.valid_from_run = {int(run_id)}))
        """
        for each in imported
    )


def samples(connection: duckdb.DuckDBPyConnection, run_id: int, reread: Iterable[str]) -> pl.DataFrame:
    """Return the samples a run touched, in one column `sample_id`, whether the register knows them or not.

    Parameters
    ----------
    run_id
        The run.
    reread
        Hashes of exports that were known before and were read again in it.
    """
    with staged(connection, pl.DataFrame({"export_hash": list(reread)}, schema=_HASH)) as hashes:
        return fetch(connection, _query(run_id, hashes))


def _query(run_id: int, reread: str) -> str:
    return f"""
        WITH named AS ({_changed("sample_id", run_id)} UNION {_of_series(run_id, reread)}),
        mixes AS ({_changed("mix_id", run_id, without="sample_id")}),
        projects AS (SELECT project_id FROM project WHERE {changed("project", run_id)}),
        instruments AS ({_changed("instrument_id", run_id, without="sample_id")}),
        direct AS (
            SELECT sample_id FROM named
            UNION
            {_on_instruments()}
            UNION
            SELECT sample_id FROM sample
            WHERE valid_to_run IS NULL
              AND (mix_id IN (FROM mixes) OR project_id IN (FROM projects))
        ),
        companies AS (
            SELECT DISTINCT project_id, mix_id, lot FROM sample
            WHERE (valid_to_run IS NULL AND sample_id IN (FROM direct)) OR {changed("sample", run_id)}
        )
        SELECT sample_id FROM direct
        UNION
        SELECT s.sample_id FROM sample AS s
        SEMI JOIN companies AS c ON {same("s", "c", ("project_id", "mix_id", "lot"))}
        WHERE s.valid_to_run IS NULL
        ORDER BY sample_id
        """


def under_changed_sets(connection: duckdb.DuckDBPyConnection, run_id: int) -> pl.DataFrame:
    """Return the samples (`sample_id`) of projects a specification set of which changed in a run.

    Their figures are as they were; only what is judged of them may differ.
    """
    tables = [each.name for each in _tables_with("set_id")]
    sets = _union(f"SELECT set_id FROM {quoted(name)} WHERE {changed(name, run_id)}" for name in tables)
    query = f"""
        WITH sets AS ({sets}),
        projects AS (
            SELECT project_id FROM project WHERE valid_to_run IS NULL AND set_id IN (FROM sets)
            UNION
            SELECT project_id FROM specification_assignment
            WHERE set_id IN (FROM sets) OR {changed("specification_assignment", run_id)}
        )
        SELECT sample_id FROM sample WHERE valid_to_run IS NULL AND project_id IN (FROM projects) ORDER BY sample_id
        """
    return fetch(connection, query)


def mixes_of(connection: duckdb.DuckDBPyConnection, sample_ids: pl.DataFrame) -> pl.DataFrame:
    """Return `project_id`, `mix_id` of these samples (`sample_id`), those they once had included."""
    with staged(connection, sample_ids.select("sample_id").unique()) as subjects:
        return fetch(
            connection,
            f"SELECT DISTINCT project_id, mix_id FROM sample SEMI JOIN {subjects} USING (sample_id) ORDER BY ALL",
        )


def samples_of(connection: duckdb.DuckDBPyConnection, mixes: pl.DataFrame) -> pl.DataFrame:
    """Return the current samples (`sample_id`) of these mixes (`project_id`, `mix_id`)."""
    match = same("s", "c", ("project_id", "mix_id"))
    with staged(connection, mixes) as chosen:
        return fetch(
            connection,
            f"SELECT s.sample_id FROM sample AS s SEMI JOIN {chosen} AS c ON {match} "
            "WHERE s.valid_to_run IS NULL ORDER BY s.sample_id",
        )
