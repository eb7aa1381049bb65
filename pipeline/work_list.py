"""The work list on a day: what is due, missing, late, invalid or doubtful, from the published warehouse."""

from datetime import date

import polars as pl
from duckdb import DuckDBPyConnection

from schemas.vocabulary import ItemKind
from warehouse.sql import fetch

#: Columns of the list.
COLUMNS = ("state", "kind", "project_id", "mix_id", "lot", "sample_id", "since", "due_on", "sentence", "remedy")


def on_day(connection: DuckDBPyConnection, day: date, project: str | None = None) -> pl.DataFrame:
    """Return what stands on a day, the late first (`COLUMNS`).

    `state` is `late` where the day it was due on has passed, `due` where it has not, `open` where there is none.
    """
    rows = fetch(connection, "SELECT * FROM programme").filter(pl.col("since").is_null() | (pl.col("since") <= day))
    if project is not None:
        rows = rows.filter(pl.col("project_id") == project)
    state = (
        pl.when(pl.col("due_on") < day)
        .then(pl.lit("late"))
        .when(pl.col("due_on").is_not_null())
        .then(pl.lit("due"))
        .otherwise(pl.lit("open"))
    )
    order = {"late": 0, "due": 1, "open": 2}
    kinds = {word.value: place for place, word in enumerate(ItemKind)}
    return (
        rows.with_columns(state=state)
        .sort(
            pl.col("state").replace_strict(order, return_dtype=pl.Int64),
            pl.col("kind").replace_strict(kinds, return_dtype=pl.Int64),
            "project_id",
            "mix_id",
            "due_on",
            "sample_id",
            "subject",
            nulls_last=True,
        )
        .select(COLUMNS)
    )
