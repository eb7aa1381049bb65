"""Work lists: items in words, grouped by what they ask for; shared by the work list and the project pages."""

import polars as pl

from plugins.renderers.verbs.markup import clipped, fill, given
from plugins.renderers.verbs.slugs import slugs
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
#: Kind -> short words for it, where its own name is not such.
_WORDS = {
    ItemKind.NO_REGISTER: "sample not registered",
    ItemKind.IN_DOUBT: "closer to its limit than its uncertainty",
    ItemKind.LATE: "came late",
    ItemKind.OVERDUE: "tests owed by a day",
    ItemKind.INVALID: "not to be judged",
    ItemKind.STARTUP: "start-up tests",
    ItemKind.STOP: "production",
    ItemKind.BIAS: "laboratories differ",
    ItemKind.SIGNAL: "control chart signals",
    ItemKind.LAPSED: "used without calibration",
    ItemKind.SET_AT_FAULT: "specification set",
}
_SHAPES = {"late": "▲", "due": "○", "open": "·"}
_GROUP = {str(kind.value): group for group, kinds in GROUPS.items() for kind in kinds}
_SAID = {str(kind.value): _WORDS.get(kind, str(kind.value)) for kind in ItemKind}

#: Column head -> cell; `where_html` is the sample with its link, or nothing.
COLUMNS = {
    "Asks for": '<span class="firm"><b>{group}</b></span><span class="small">{said}</span>',
    "Mix and lot": "<bdi>{mix}</bdi>{lot_html}",
    "What it is": "<bdi>{what}</bdi>{sample_html}",
    "What to do": "<bdi>{todo}</bdi>",
    "By when": "{when_html}",
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
    link = fill(f'<span class="small">sample <a href="{up}sample/{{slug}}.html"><bdi>{{label}}</bdi></a></span>')
    return (
        linked.with_columns(
            pl.col("kind").replace_strict(_SAID, default=clipped(pl.col("kind"), 40), return_dtype=pl.String)
            .alias("said"),
            clipped(pl.col("sample_id"), 80).alias("label"),
            clipped(pl.col("mix_id"), 60).alias("mix"),
            given("lot", fill(' <span class="small">lot <bdi>{lot}</bdi></span>', lot=clipped(pl.col("lot"), 40)))
            .alias("lot_html"),
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
    shape = pl.col("state").replace_strict(_SHAPES, default="·", return_dtype=pl.String)
    late = fill(
        '<span class="mark fail"><span aria-hidden="true">{shape}</span> <span class="word">late</span></span>'
        '<span class="small">was due <span class="date">{due_on}</span></span>',
        shape=shape,
    )
    due = fill(
        '<span class="mark open"><span aria-hidden="true">{shape}</span> <span class="word">due</span></span>'
        '<span class="small">by <span class="date">{due_on}</span></span>',
        shape=shape,
    )
    since = given("since", fill('<span class="small">since <span class="date">{since}</span></span>'))
    stands = pl.concat_str(pl.lit("open, no day set"), since)
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
