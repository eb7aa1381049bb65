"""Refused and waiting files and rows, with place, reason and remedy."""

import polars as pl

from plugins.renderers.verbs.markup import clipped

#: Stage of a refusal whose rows are accepted and kept, waiting for something else to arrive.
_WAITING = "match"

#: Column head -> cell.
COLUMNS = {
    "State": '<span class="firm">{state}</span>',
    "File": "<bdi>{file}</bdi>",
    "Place": '<bdi class="spot">{spot}</bdi>',
    "Reason": "<bdi>{why}</bdi>",
    "What to do": "<bdi>{todo}</bdi>",
}


def _stated(column: str, otherwise: str) -> pl.Expr:
    """Return the text of a column, or other words where it holds none."""
    empty = pl.col(column).fill_null("") == ""
    return pl.when(empty).then(pl.lit(otherwise)).otherwise(pl.col(column))


def shown(refusals: pl.DataFrame) -> pl.DataFrame:
    """Return refusals with the columns the cells name: state, file, spot, why, todo."""
    waiting = pl.col("stage") == _WAITING
    return refusals.sort("stage", "file_name", "place", nulls_last=True, maintain_order=True).with_columns(
        pl.when(waiting).then(pl.lit("waiting")).otherwise(pl.lit("refused")).alias("state"),
        clipped(_stated("file_name", "–"), 120).alias("file"),
        clipped(_stated("place", "whole file"), 80).alias("spot"),
        clipped(pl.coalesce("reason", "code"), 400).alias("why"),
        clipped(pl.col("remedy"), 400).alias("todo"),
    )
