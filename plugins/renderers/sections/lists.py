"""Lists that project and sample pages share: missing tests, doubtful, withheld and refused results."""

import polars as pl

from plugins.renderers.sections import refused
from plugins.renderers.sections.model import Model
from plugins.renderers.sections.overview import owned
from plugins.renderers.verbs.markup import clipped, fill, gathered, given, phrase
from plugins.renderers.verbs.results import flag_sentences, named
from plugins.renderers.verbs.shell import Cut, tables_by_owner
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.words import word

#: Entries of a list on one page.
_LISTED = Cut(300, "work.shown")
_SAMPLE = '<a href="../sample/{slug}.html"><bdi>{label}</bdi></a>'


def linked(frame: pl.DataFrame, parts: Model) -> pl.DataFrame:
    """Add slug and label of the sample, and sample_html: a link to its page, or its label where it has none."""
    known = parts.samples.select("sample_id", "slug", "taken_on", "place_in_time")
    joined = frame.join(known, on="sample_id", how="left", maintain_order="left")
    text = joined.with_columns(clipped(pl.col("sample_id"), 80).alias("label"))
    link = pl.when(pl.col("slug").is_not_null()).then(fill(_SAMPLE)).otherwise(fill("<bdi>{label}</bdi>"))
    return text.with_columns(given("sample_id", link).alias("sample_html"))


def missing(parts: Model, owner: str) -> dict[str, str]:
    """Return owner -> table of the missing tests; owner is project_id or sample_id."""
    rows = linked(named(owned(take(parts.tables, "missing"), parts.owner), parts.naming), parts)
    rows = rows.sort("place_in_time", "property", "point", nulls_last=True, maintain_order=True)
    what = {word("head.test"): "{title}", word("head.expected"): "<bdi>{reason}</bdi>"}
    columns = {word("head.sample"): "{sample_html}", **what} if owner == "project_id" else what
    return tables_by_owner(rows.drop_nulls(owner), owner, columns, cut=_LISTED)


def doubts(frame: pl.DataFrame, parts: Model, key: list[str]) -> pl.DataFrame:
    """Return, for rows with flags, one row each with `doubt_html`: every flag as a sentence with limit and source."""
    sentences = flag_sentences(frame, parts.tables, key)
    limit = given("limit_text", phrase("doubt.limit", limit=pl.col("limit_text")))
    source = given("source", fill(' <span class="small">{source}</span>'))
    item = fill(
        '<span class="flag"><bdi>{sentence}</bdi></span>{limit_html}{source_html}', limit_html=limit, source_html=source
    )
    return gathered(sentences.select(*key, item.alias("doubt_html")), key, "doubt_html", "<br>")


def withheld_html() -> pl.Expr:
    """Return why a figure is withheld, of column withheld; nothing where it is not."""
    return given("withheld", fill("{said}<bdi>{withheld}</bdi><br>", said=pl.lit(word("deviation.withheld"))))


def doubtful(parts: Model, owner: str) -> dict[str, str]:
    """Return owner -> table of results with flags or without a figure, each with its reasons in sentences."""
    key = ["sample_id", "property", "point"]
    rows = parts.results.filter((pl.col("flags").fill_null("") != "") | pl.col("withheld").is_not_null())
    rows = rows.join(doubts(rows, parts, key), on=key, how="left", nulls_equal=True, maintain_order="left")
    rows = linked(rows.drop("place_in_time"), parts).sort("place_in_time", nulls_last=True, maintain_order=True)
    rows = rows.with_columns(
        withheld_html().alias("held_html"),
        pl.coalesce("shown", pl.lit(word("density.no_figure"))).alias("figure"),
        pl.when(pl.col("shown").is_not_null()).then(pl.col("unit")).alias("unit"),
    )
    what = {
        word("head.result"): "{title}",
        word("head.figure"): "{figure} {unit}",
        word("report.why"): "{held_html}{doubt_html}",
    }
    columns = {word("head.sample"): "{sample_html}", **what} if owner == "project_id" else what
    return tables_by_owner(rows.drop_nulls(owner), owner, columns, cut=_LISTED)


def refusals(parts: Model, owner: str) -> dict[str, str]:
    """Return owner -> table of what was refused or waits."""
    rows = refused.shown(owned(take(parts.tables, "refusals"), parts.owner))
    return tables_by_owner(rows.drop_nulls(owner), owner, refused.columns(), cut=_LISTED)
