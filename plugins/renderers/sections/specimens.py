"""Specimen tables: one per method, properties as rows, specimens as columns."""

import polars as pl

from plugins.renderers.sections.lists import doubts, withheld_html
from plugins.renderers.sections.model import Model
from plugins.renderers.sections.trace import method_titles
from plugins.renderers.verbs.figures import doubt, fixed, reported
from plugins.renderers.verbs.markup import by_owner, clipped, fill, given
from plugins.renderers.verbs.results import named
from plugins.renderers.verbs.shell import tables_by_owner
from plugins.renderers.verbs.tables import take, within
from plugins.renderers.verbs.words import word

_METHOD = ["sample_id", "method"]
_ROW = [*_METHOD, "property", "point"]
_FIGURE = [*_ROW, "specimen_no"]


def _values(parts: Model, scope: frozenset[str] | None) -> pl.DataFrame:
    rows = named(within(take(parts.tables, "specimen_values"), "sample_id", scope), parts.naming)
    shown = pl.coalesce(
        reported(pl.col("text")), fixed(pl.col("value"), pl.col("decimals")), pl.lit(word("sample.withheld"))
    )
    return rows.with_columns(shown.alias("shown"), doubt(pl.col("uncertainty")).alias("doubt")).sort(
        *_METHOD, "property", "point", nulls_last=True, maintain_order=True
    )


def _cells(values: pl.DataFrame) -> pl.DataFrame:
    """Return every (row, specimen) of every method's table, empty where a specimen has no such figure."""
    specimens = values.select(*_METHOD, "specimen_no").unique().sort(*_METHOD, "specimen_no", nulls_last=True)
    rows = values.select(*_ROW, "title", "symbol", "unit").unique(_ROW, keep="first", maintain_order=True)
    grid = rows.join(specimens, on=_METHOD, how="inner", nulls_equal=True, maintain_order="left_right")
    figures = values.unique(_FIGURE, keep="last", maintain_order=True).select(*_FIGURE, "shown", "doubt", "flags")
    full = grid.join(figures, on=_FIGURE, how="left", nulls_equal=True, maintain_order="left")
    mark = fill(
        ' <span class="mark open"><span aria-hidden="true">⚑</span> {doubtful}</span>',
        doubtful=pl.lit(word("due_group.doubtful")),
    )
    flag = given("flags", mark)
    stated = given("doubt", fill(' <span class="small firm">{doubt}</span>'))
    return full.with_columns(
        fill("<td>{shown}{doubt_html}{flag_html}</td>", doubt_html=stated, flag_html=flag).alias("cell"),
        fill(
            '<th scope="col"><bdi>{no}</bdi></th>', no=clipped(pl.col("specimen_no").fill_null(word("text.none")), 40)
        ).alias("head"),
    )


def specimen_tables(parts: Model, scope: frozenset[str] | None, *, linked: bool = True) -> dict[str, str]:
    """Return sample -> one table per method with the figures of its specimens, linked to its readings on the page."""
    cells = _cells(_values(parts, scope))
    unit = given("unit", fill(", {unit}"))
    rows = cells.group_by(_ROW, maintain_order=True).agg(
        pl.col("title", "unit").first(),
        pl.col("cell", "head").str.join(""),
        pl.col("doubt").is_not_null().any().alias("known"),
    )
    row = fill('<tr><th scope="row">{title}{unit_html}</th>{cell_html}</tr>', unit_html=unit, cell_html=pl.col("cell"))
    lines = rows.select(*_METHOD, "head", "known", row.alias("row"))
    tables = lines.group_by(_METHOD, maintain_order=True).agg(
        pl.col("head").first(), pl.col("row").str.join(""), pl.col("known").any()
    )
    titled = tables.join(method_titles(tables["method"]), on="method", how="left", maintain_order="left")
    title = clipped(pl.coalesce("method_title", pl.lit(word("sample.other_figures"))), 120)
    table = fill(
        '<div class="scroll"><table class="spec"><caption>{title_html}{known_html}</caption>'
        '<thead><tr><th scope="col">{specimen}</th>{head_html}</tr></thead><tbody>{row_html}</tbody></table></div>',
        title_html=fill('<a href="#{method_anchor}">{title}</a>' if linked else "{title}", title=title),
        known_html=pl.when("known").then(
            fill(' <span class="small">{words}</span>', words=pl.lit(word("sample.uncertainty")))
        ),
        specimen=pl.lit(word("head.specimen")),
        head_html=pl.col("head"),
        row_html=pl.col("row"),
    )
    return by_owner(titled.select("sample_id", table.alias("table")), "sample_id", "table")


def specimen_doubts(parts: Model, scope: frozenset[str] | None) -> dict[str, str]:
    """Return sample -> table of its specimens' figures with flags or withheld, with the reasons."""
    values = _values(parts, scope).filter((pl.col("flags").fill_null("") != "") | pl.col("withheld").is_not_null())
    reasons = doubts(values, parts, _FIGURE)
    rows = values.join(reasons, on=_FIGURE, how="left", nulls_equal=True, maintain_order="left")
    rows = rows.join(method_titles(rows["method"]), on="method", how="left", maintain_order="left").with_columns(
        withheld_html().alias("held_html"),
        clipped(pl.col("specimen_no"), 40).alias("no"),
        clipped(pl.col("method_title"), 120).alias("by"),
    )
    columns = {
        word("head.specimen"): '<bdi>{no}</bdi><span class="small">{by}</span>',
        word("head.figure"): "{title} {shown}",
        word("report.why"): "{held_html}{doubt_html}",
    }
    return tables_by_owner(rows, "sample_id", columns)
