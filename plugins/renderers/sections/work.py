"""Work lists: items in words, grouped by what they ask for; shared by the work list and the project pages."""

import polars as pl

from plugins.renderers.verbs.markup import clipped, fill, given, phrase
from plugins.renderers.verbs.presentation import day
from plugins.renderers.verbs.slugs import slugs
from plugins.renderers.verbs.words import spoken, word
from schemas.vocabulary import ItemKind

#: Group -> kinds of items in it, in the order shown.
GROUPS: dict[str, tuple[ItemKind, ...]] = {
    "late": (ItemKind.OVERDUE, ItemKind.LATE),
    "missing": (ItemKind.MISSING, ItemKind.NO_REGISTER),
    "doubtful": (
        ItemKind.INVALID, ItemKind.IN_DOUBT, ItemKind.OUTLIER, ItemKind.LAPSED, ItemKind.BIAS, ItemKind.SIGNAL,
        ItemKind.SET_AT_FAULT,
    ),
    "owed": (ItemKind.STOP, ItemKind.REMOVAL, ItemKind.RETEST, ItemKind.STARTUP, ItemKind.CALIBRATION),
}  # fmt: skip
_GROUP = {str(kind.value): group for group, kinds in GROUPS.items() for kind in kinds}


def columns() -> dict[str, str]:
    """Return column head -> cell; `sample_html` is the sample with its link, or nothing."""
    return {
        word("due.asks"): '<span class="firm"><b>{group_text}</b></span><span class="small">{said}</span>',
        word("due.where"): "<bdi>{mix}</bdi>{lot_html}",
        word("due.what"): "<bdi>{what}</bdi>{sample_html}",
        word("head.todo"): "<bdi>{todo}</bdi>",
        word("due.when"): "{when_html}",
    }


def grouped(work: pl.DataFrame) -> pl.DataFrame:
    """Add `group`: what an item asks for."""
    return work.with_columns(
        pl.col("kind").replace_strict(_GROUP, default="other", return_dtype=pl.String).alias("group")
    )


def worded(work: pl.DataFrame, samples: pl.DataFrame, up: str) -> pl.DataFrame:
    """Return items with the columns the cells name, in the order to be shown: late ones first, then by group.

    Parameters
    ----------
    work
        Table `work`.
    samples
        Columns sample_id, slug of the samples that have a page.
    up
        Way from the page to the folder of pages: `` or `../`.
    """
    place = {name: number for number, name in enumerate(GROUPS)}
    linked = grouped(work).join(samples.select("sample_id", "slug"), on="sample_id", how="left", maintain_order="left")
    link = fill(
        '<span class="small">{sample_html}</span>',
        sample_html=phrase(
            "due.sample", sample_html=fill(f'<a href="{up}sample/{{slug}}.html"><bdi>{{label}}</bdi></a>')
        ),
    )
    lot = phrase("due.lot", lot_html=fill("<bdi>{lot}</bdi>", lot=clipped(pl.col("lot"), 40)))
    return (
        linked.with_columns(
            clipped(spoken("item", pl.col("kind")), 40).alias("said"),
            spoken("due_group", pl.col("group")).alias("group_text"),
            clipped(pl.col("sample_id"), 80).alias("label"),
            clipped(pl.col("mix_id"), 60).alias("mix"),
            given("lot", fill(' <span class="small">{lot_html}</span>', lot_html=lot)).alias("lot_html"),
            clipped(pl.col("sentence"), 400).alias("what"),
            clipped(pl.col("remedy"), 400).alias("todo"),
            _when().alias("when_html"),
        )
        .with_columns(given("slug", link).alias("sample_html"))
        .sort(
            pl.col("state") != "late",
            pl.col("group").replace_strict(place, default=len(place), return_dtype=pl.Int64),
            "project_id", "mix_id", "lot", "due_on", "since", "sample_id", "sentence",
            nulls_last=True, maintain_order=True,
        )
    )  # fmt: skip


def _when() -> pl.Expr:
    def dated(name: str, column: str) -> pl.Expr:
        said = phrase(name, day_html=fill('<span class="date">{day}</span>', day=day(pl.col(column))))
        return fill('<span class="small">{said_html}</span>', said_html=said)

    def marked(kind: str, shape: str, name: str, until: str) -> pl.Expr:
        return fill(
            f'<span class="mark {kind}"><span aria-hidden="true">{shape}</span> '
            '<span class="word">{word}</span></span>{until_html}',
            word=pl.lit(word(name)),
            until_html=dated(until, "due_on"),
        )

    late, due = marked("fail", "▲", "work.late", "due.was_due"), marked("open", "○", "due.due", "due.by")
    stands = pl.concat_str(phrase("work.open"), given("since", dated("due.since", "since")))
    return pl.when(pl.col("state") == "late").then(late).when(pl.col("state") == "due").then(due).otherwise(stands)


def counts(items: pl.DataFrame, by: list[str]) -> pl.DataFrame:
    """Return how many items of each group stand per owner: columns `by`, late_n, missing_n, doubtful_n, owed_n."""
    return items.group_by(by, maintain_order=True).agg(
        (pl.col("group") == name).sum().cast(pl.Int64).alias(f"{name}_n") for name in GROUPS
    )


def anchors(items: pl.DataFrame) -> pl.DataFrame:
    """Add project_slug: the slug of the project, null where the item is of none."""
    known = slugs(items["project_id"]).rename({"slug": "project_slug"})
    return items.join(known, on="project_id", how="left", maintain_order="left")
