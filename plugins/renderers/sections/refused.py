"""Refused and waiting files and rows, with place, reason and remedy."""

import polars as pl

from plugins.renderers.verbs.markup import clipped
from plugins.renderers.verbs.words import word

#: Stage of a refusal whose rows are accepted and kept, waiting for something else to arrive.
_WAITING = "match"


def columns(*, stated: bool = True) -> dict[str, str]:
    """Return column head -> cell; `stated`: with the state, which tells what is refused from what waits."""
    state = {word("head.standing"): '<span class="firm">{state}</span>'} if stated else {}
    return state | {
        word("head.file"): "<bdi>{file}</bdi>",
        word("head.place"): '<bdi class="spot">{spot}</bdi>',
        word("head.reason"): "<bdi>{why}</bdi>",
        word("head.todo"): "<bdi>{todo}</bdi>",
    }


def _stated(column: str, otherwise: str) -> pl.Expr:
    """Return the text of a column, or other words where it holds none."""
    empty = pl.col(column).fill_null("") == ""
    return pl.when(empty).then(pl.lit(otherwise)).otherwise(pl.col(column))


def shown(refusals: pl.DataFrame) -> pl.DataFrame:
    """Return refusals with the columns the cells name, and whether they are `waiting`: state, file, spot, why, todo."""
    waiting = (pl.col("stage") == _WAITING).fill_null(False)
    said = pl.when(waiting).then(pl.lit(word("refusal.waiting"))).otherwise(pl.lit(word("refusal.refused")))
    return refusals.sort("stage", "file_name", "place", nulls_last=True, maintain_order=True).with_columns(
        waiting.alias("waiting"),
        said.alias("state"),
        clipped(_stated("file_name", word("text.none")), 120).alias("file"),
        clipped(_stated("place", word("refusal.whole")), 80).alias("spot"),
        clipped(pl.coalesce("reason", "code"), 400).alias("why"),
        clipped(pl.col("remedy"), 400).alias("todo"),
    )
