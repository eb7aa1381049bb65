"""The cross-project summary page, put together."""

import polars as pl
from great_tables import GT

from plugins.renderers.sections import overview, refused
from plugins.renderers.sections.model import Model, model
from plugins.renderers.verbs.figures import counted, spaced
from plugins.renderers.verbs.markup import clipped, fill, printable
from plugins.renderers.verbs.results import Tables
from plugins.renderers.verbs.shell import as_of, page, tables_by_owner
from plugins.renderers.verbs.tables import take

#: Refusals listed on the page; the rest is counted.
REFUSALS_SHOWN = 200
#: Fixed, so that the same tables give the same bytes.
_TABLE_ID = "projects"
_NOTHING = {
    "within": '<span class="lbl">Within limits</span><span class="nil">nothing judged</span>',
    "worst": '<span class="lbl">Worst result</span><span class="nil">none outside</span>',
}
_LABELS = {
    "project": "Project",
    "samples": "Samples",
    "within": "Judged results within limits",
    "worst": "Worst result",
    "missing": "Missing tests",
    "doubtful": "Doubtful results",
    "waiting": "Refused or waiting",
}


def _frame(parts: Model, keys: list[str]) -> pl.DataFrame:
    """Return the cells of the table as markup: one row per project."""
    slugged = parts.projects.select("project_id", "slug")
    pieces = [
        overview.cells(parts.results, slugged, keys),
        overview.share_cells(parts.judged),
        overview.worst_cells(parts.judged, parts.samples),
        overview.open_cells(parts.tables, parts.results, slugged, parts.owner),
    ]
    frame = overview.project_cells(parts.projects, parts.samples)
    for piece in pieces:
        frame = frame.join(piece, on="project_id", how="left", maintain_order="left")
    columns = [
        "project",
        "samples",
        *(pl.col(key).fill_null('<span class="nil">–</span>').alias(f"p{place}") for place, key in enumerate(keys)),
        *(pl.col(name).fill_null(text) for name, text in _NOTHING.items()),
        "missing",
        "doubtful",
        "waiting",
    ]
    # A project without any judgement has no worst result to deny.
    nothing = pl.when(pl.col("within").is_null()).then(pl.lit('<span class="nil">–</span>'))
    return frame.with_columns(pl.coalesce("worst", nothing).alias("worst")).select(columns)


def _heads(parts: Model, keys: list[str]) -> dict[str, str]:
    named = parts.naming.unique("property", keep="first", maintain_order=True)
    titles = dict(zip(named["property"], zip(named["name"], named["symbol"], named["unit"], strict=True), strict=True))
    heads = {}
    for place, key in enumerate(keys):
        name, symbol, unit = titles[key]
        head = name + (f" ({symbol})" if symbol and symbol != name else "") + (f", {unit}" if unit else "")
        heads[f"p{place}"] = printable(head)
    return heads


def _table_html(frame: pl.DataFrame, heads: dict[str, str]) -> str:
    """Return the table as great-tables draws it, without its own style sheet: ours serves dark, phone and print."""
    drawn = (
        GT(frame, id=_TABLE_ID)
        # Every cell is markup made by `fill`, which escapes what it takes: hand it through as it is.
        .fmt(lambda cell: cell)
        .cols_label(cases={**_LABELS, **heads})
        .cols_align("left")
    )
    if heads:
        drawn = drawn.tab_spanner("Mean ± s, each sample against its limits", columns=list(heads), id="means")
    drawn = drawn.tab_spanner("Needs attention", columns=["missing", "doubtful", "waiting"], id="attention")
    whole = drawn.as_raw_html()
    return whole[whole.index("<table") : whole.rindex("</table>")] + "</table>"


def _lead(parts: Model) -> str:
    """Return the page in two sentences."""
    verdict = parts.judged.filter(pl.col("project_id").is_not_null())["verdict"]
    passed, failed = int((verdict == "pass").sum()), int((verdict == "fail").sum())
    start = f"{counted(parts.projects.height, 'project')}, {counted(parts.samples.height, 'sample')}."
    if not passed + failed:
        return f"{start} Nothing has been judged against a limit yet."
    return f"{start} {spaced(passed)} of {counted(passed + failed, 'judged result')} lie within their limits."


def _refusals_html(parts: Model) -> tuple[str, int]:
    rows = refused.shown(take(parts.tables, "refusals"))
    listed = rows.head(REFUSALS_SHOWN).with_columns(pl.lit("all").alias("owner"))
    return tables_by_owner(listed, "owner", refused.COLUMNS).get("all", ""), rows.height


def _orphans_html(parts: Model) -> str:
    rows = parts.samples.filter(pl.col("project_slug").is_null())
    item = fill(
        '<li><a href="sample/{slug}.html"><bdi>{sample}</bdi></a> names project <bdi>{project}</bdi></li>',
        sample=clipped(pl.col("sample_id"), 80),
        project=clipped(pl.col("project_id").fill_null("–"), 80),
    )
    return "".join(rows.head(REFUSALS_SHOWN).select(item.alias("item"))["item"].to_list())


def _keys(tables: Tables) -> list[str]:
    owned = take(tables, "samples").filter(pl.col("project_id").is_not_null())
    judged = take(tables, "judgements").join(owned, on="sample_id", how="semi", maintain_order="left")
    return overview.key_properties(judged, take(tables, "sample_values"))


def _shown(values: pl.DataFrame, keys: list[str]) -> pl.DataFrame:
    """Keep the results that have a column, and the doubtful ones that are counted; ten years have many more."""
    return values.filter(pl.col("property").is_in(keys) | (pl.col("flags").fill_null("") != ""))


def summary_html(tables: Tables) -> bytes:
    """Return the summary page of all projects.

    Parameters
    ----------
    tables
        The tables handed in (`verbs.tables.TABLES`).
    """
    keys = _keys(tables)
    parts = model({**tables, "sample_values": _shown(take(tables, "sample_values"), keys)})
    table_html = ""
    if not parts.projects.is_empty():
        table_html = _table_html(_frame(parts, keys), _heads(parts, keys))
    refusals_html, refusals_count = _refusals_html(parts)
    return page(
        "summary.html",
        as_of(tables),
        lead=_lead(parts),
        table_html=table_html,
        refusals_html=refusals_html,
        refusals_count=refusals_count,
        refusals_shown=min(refusals_count, REFUSALS_SHOWN),
        orphans_html=_orphans_html(parts),
        orphans_count=int(parts.samples["project_slug"].is_null().sum()),
        orphans_shown=REFUSALS_SHOWN,
    )
