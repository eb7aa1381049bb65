"""Refusals in the store: those of an export follow its reading, those of later stages follow their samples."""

from collections.abc import Collection

import duckdb
import polars as pl

from schemas.describe import describe
from warehouse import history
from warehouse.sql import fetch, listed, staged

#: Stages whose refusals `of_stages` keeps; all other stages belong to the reading of an export.
LATER_STAGES = ("match", "derive")


def of_exports(connection: duckdb.DuckDBPyConnection, frame: pl.DataFrame, hashes: str, run_id: int) -> None:
    """Make the current refusals of the reading of these exports what `frame` says; runs in the open transaction.

    A refusal without an export is about a file that could not even be hashed: one such row stands until `of_stages`
    clears it.

    Parameters
    ----------
    hashes
        Relation with a column `export_hash`: the exports that were read.
    """
    frame = history.shaped(frame, describe("refusal"))
    own = f"export_hash IN (SELECT export_hash FROM {hashes})"
    known = pl.col("export_hash").is_not_null()
    stages = ", ".join(f"'{stage}'" for stage in LATER_STAGES)
    history.replace_rows(connection, "refusal", frame.filter(known), f"{own} AND stage NOT IN ({stages})", run_id)
    nameless = frame.filter(~known)
    if nameless.height:
        columns = history.content(describe("refusal"))
        where = "valid_to_run IS NULL AND export_hash IS NULL"
        standing = fetch(connection, f"SELECT {listed(columns)} FROM refusal WHERE {where}")
        history.replace_rows(connection, "refusal", pl.concat([standing, nameless]), "export_hash IS NULL", run_id)


def of_stages(
    connection: duckdb.DuckDBPyConnection,
    frame: pl.DataFrame,
    stages: Collection[str],
    subjects: pl.DataFrame | None,
    run_id: int,
) -> None:
    """Make the current refusals of these stages what `frame` says; runs in the open transaction.

    Parameters
    ----------
    subjects
        Samples to keep to (column `sample_id`); None for all refusals of the stages.
    """
    with staged(connection, pl.DataFrame({"stage": list(stages)}, schema={"stage": pl.String})) as kinds:
        scope = f"stage IN (SELECT stage FROM {kinds})"
        if subjects is None:
            history.replace_rows(connection, "refusal", frame, scope, run_id)
            return
        with staged(connection, subjects.select("sample_id").unique()) as samples:
            scope = f"{scope} AND sample_id IN (SELECT sample_id FROM {samples})"
            history.replace_rows(connection, "refusal", frame, scope, run_id)
