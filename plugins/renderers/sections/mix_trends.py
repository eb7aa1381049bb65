"""Volumetrics of a mix along time: one small chart per result, with the samples behind it in a table."""

import polars as pl

from plugins.renderers.charts.timeline import timelines
from plugins.renderers.verbs.figures import fixed
from plugins.renderers.verbs.markup import clipped, fill, gathered, given
from plugins.renderers.verbs.presentation import day
from plugins.renderers.verbs.results import Tables, flag_sentences, named, names
from plugins.renderers.verbs.shell import tables_by_owner
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.verdicts import SHAPES, limit_text, mark_html, side, verdict_words
from plugins.renderers.verbs.words import word

_BY = ["mix_id", "property"]
#: What names one point.
_KEY = ["sample_id", "property"]


def _rows(tables: Tables, samples: pl.DataFrame) -> pl.DataFrame:
    """Return the results with name, side, figures as text, slug of the sample and sentences of the flags."""
    rows = take(tables, "mix_trends").drop_nulls(["mix_id", "sample_id", "property", "value"])
    flags = gathered(
        flag_sentences(rows, tables, _KEY).with_columns(clipped(pl.col("sentence"), 200)), _KEY, "sentence", "; "
    ).rename({"sentence": "flags_text"})
    # The totals stand in the order in which the charts are to be shown.
    order = take(tables, "mix_trend_totals").select(_BY).unique(maintain_order=True).with_row_index("place_in_list")
    return (
        named(rows, names(rows, tables))
        .join(samples.select("sample_id", "slug"), on="sample_id", how="left", maintain_order="left")
        .join(flags, on=_KEY, how="left", maintain_order="left")
        .join(order, on=_BY, how="left", maintain_order="left")
        .with_columns(
            side().alias("side"),
            limit_text().alias("limit"),
            fixed(pl.col("value"), pl.col("decimals")).alias("shown"),
            day(pl.col("taken_on")).alias("taken"),
            clipped(pl.col("sample_id"), 60).alias("label"),
        )
        .sort("mix_id", "place_in_list", "property", "taken_on", "sample_id", nulls_last=True)
    )


def _told() -> pl.Expr:
    """Return what a point says of itself: sample, day, figure, verdict and flags."""
    head = pl.concat_str("label", pl.lit(", "), pl.col("taken").fill_null(word("text.none")), pl.lit(": "), "shown")
    unit = given("unit", pl.concat_str(pl.lit(" "), "unit"))
    verdict = given("side", pl.concat_str(pl.lit(", "), verdict_words()))
    flagged = given("flags_text", pl.concat_str(pl.lit(f"; {word('mix_page.flagged')}: "), "flags_text"))
    return pl.concat_str(head, unit, verdict, flagged)


def _totals(tables: Tables, rows: pl.DataFrame) -> pl.DataFrame:
    """Return, per chart, its title and what it comes to in words."""
    totals = take(tables, "mix_trend_totals").drop_nulls(_BY)
    shown = rows.group_by(_BY, maintain_order=True).agg(
        pl.len().alias("drawn"), pl.col("title", "unit", "decimals").first()
    )
    unit = given("unit", pl.concat_str(pl.lit(" "), "unit"))
    target = pl.concat_str(fixed(pl.col("target"), pl.col("decimals")), unit)
    gap = pl.lit("; ")
    parts = (
        pl.format(word("mix_page.counts"), "samples", "outside", "flagged"),
        pl.when(pl.col("target").is_null())
        .then(pl.lit(word("mix_page.no_target")))
        .otherwise(pl.format(word("mix_page.target"), target)),
        pl.when(limit_text().is_null())
        .then(pl.lit(word("mix_page.no_limit")))
        .otherwise(pl.format(word("mix_page.limits"), pl.concat_str(limit_text(), unit))),
        pl.when(pl.col("drawn") < pl.col("samples")).then(pl.format(word("mix_page.latest"), "drawn")),
    )
    return shown.join(totals, on=_BY, how="left", maintain_order="left").with_columns(
        pl.concat_str(*(pl.concat_str(part, gap) for part in parts[:-1]), parts[-1].fill_null(""))
        .str.strip_suffix("; ")
        .alias("said")
    )


def trends(tables: Tables, samples: pl.DataFrame) -> tuple[dict[str, str], dict[str, str]]:
    """Return mix -> the charts of its results along time, and mix -> the table of the samples behind them.

    Parameters
    ----------
    tables
        The tables handed in.
    samples
        The register of samples, with slug.
    """
    rows = _rows(tables, samples)
    said = _totals(tables, rows)
    mix = clipped(pl.col("mix_id"), 60)
    about = said.select(
        *_BY, pl.format(word("mix_page.trend_title"), "title", mix).alias("title"), pl.col("said").alias("description")
    )
    values = rows.select(
        *_BY, pl.col("taken_on").alias("day"), "value", "target", "lower", "upper", "side",
        pl.col("flags_text").is_not_null().alias("flagged"), _href().alias("href"), _told().alias("told"),
    )  # fmt: skip
    drawn = said.join(timelines(values, about, _BY), on=_BY, how="left", maintain_order="left")
    figure = fill('<figure><h3>{title}</h3>{chart_html}<figcaption class="small">{said}</figcaption></figure>')
    charts = gathered(drawn.select("mix_id", figure.alias("figure_html")), ["mix_id"], "figure_html")
    return dict(charts.iter_rows()), _listed(rows)


def _href() -> pl.Expr:
    return pl.when(pl.col("slug").is_not_null()).then(pl.format("../sample/{}.html", "slug"))


def _listed(rows: pl.DataFrame) -> dict[str, str]:
    """Return mix -> table of its samples, the latest first, each with its results."""
    cell = fill(
        "<li><b>{symbol_or_name}</b> {shown} {unit} {mark_html}{flags_html}</li>",
        symbol_or_name=pl.coalesce("symbol", "name"),
        # Most results lie within: the word at each of them would make half of the page.
        mark_html=pl.when(pl.col("side") == "within").then(pl.lit(SHAPES["within"])).otherwise(mark_html()),
        flags_html=given("flags_text", fill(' <span class="flag">◇ {word}</span>', word=pl.lit(
            word("mix_page.flagged")))),
    )  # fmt: skip
    name = fill("<bdi>{label}</bdi>")
    link = pl.when(_href().is_not_null()).then(
        fill('<a href="{href}">{name_html}</a>', href=_href(), name_html=name)).otherwise(name)  # fmt: skip
    cells = rows.with_columns(cell.alias("cell_html"), link.alias("link_html"))
    by_sample = cells.group_by("mix_id", "sample_id", maintain_order=True).agg(
        pl.col("taken_on", "taken", "link_html").first(), pl.col("cell_html").str.join("")
    )
    ordered = by_sample.sort("mix_id", "taken_on", "sample_id", descending=[False, True, True], nulls_last=True)
    columns = {
        word("head.taken"): '<span class="date">{taken}</span>',
        word("head.sample"): "{link_html}",
        word("report.results"): '<ul class="eq">{cell_html}</ul>',
    }
    return tables_by_owner(ordered, "mix_id", columns)
