"""The cross-project summary page, put together: projects, laboratories and plants side by side."""

import polars as pl
from great_tables import GT

from plugins.renderers.sections import comparing, overview, refused, work
from plugins.renderers.sections.model import register
from plugins.renderers.verbs.figures import counted, spaced
from plugins.renderers.verbs.markup import clipped, fill, phrase, printable
from plugins.renderers.verbs.presentation import day
from plugins.renderers.verbs.results import Tables, names
from plugins.renderers.verbs.shell import as_of, page, tables_by_owner
from plugins.renderers.verbs.tables import TREND, take
from plugins.renderers.verbs.words import word

#: Refusals listed on the page; the rest is counted.
REFUSALS_SHOWN = 200
#: Projects with a row of their own, those active last; the others are listed by name.
PROJECTS_SHOWN, EARLIER_SHOWN = 100, 2000
#: Fixed, so that the same tables give the same bytes.
_TABLE_ID = "projects"
#: Column of counts -> text of its label, and the list of the project's page it opens.
_COUNTS = {
    "missing_n": ("summary.late_missing", "work"),
    "doubtful_n": ("summary.doubtful", "work"),
    "owed_n": ("summary.owed", "work"),
    "waiting_n": ("refusal.title", "waiting"),
}
#: Column -> text of its head.
_LABELS = {
    "samples": "head.samples",
    "outside": "summary.judged_outside",
    **{column: text for column, (text, _) in _COUNTS.items()},
}
#: Tables that name the properties of the page.
_NAMED = ("project_figures", "project_worst", "laboratory_figures", "laboratory_bias", "plant_figures")


def _counts(tables: Tables, samples: pl.DataFrame) -> pl.DataFrame:
    """Return project_id and the counts of `_COUNTS`: items of the work list, and what was refused or waits."""
    items = work.counts(work.grouped(take(tables, "work")), ["project_id"])
    refusals = overview.owned(take(tables, "refusals"), samples.select("sample_id", "project_id"))
    waiting = refusals.group_by("project_id").agg(pl.len().cast(pl.Int64).alias("waiting_n"))
    joined = items.join(waiting, on="project_id", how="full", coalesce=True)
    late = pl.sum_horizontal("late_n", "missing_n").alias("missing_n")
    return joined.with_columns(late).drop_nulls("project_id").select("project_id", *_COUNTS)


def _frame(
    tables: Tables, projects: pl.DataFrame, samples: pl.DataFrame, naming: pl.DataFrame, keys: list[str]
) -> pl.DataFrame:
    """Return the cells of the table as markup: one row per project."""
    slugged = projects.select("project_id", "slug")
    labels = {column: (word(text), anchor) for column, (text, anchor) in _COUNTS.items()}
    pieces = [
        overview.cells(tables, slugged, naming, keys),
        overview.outside_cells(tables, slugged, naming),
        overview.count_cells(_counts(tables, samples), slugged, labels),
    ]
    nothing = fill(
        '<span class="lbl">{head}</span><span class="nil">{none}</span>',
        head=pl.lit(word("summary.outside")),
        none=pl.lit(word("summary.unjudged")),
    )
    frame = overview.project_cells(tables, projects)
    for piece in pieces:
        frame = frame.join(piece, on="project_id", how="left", maintain_order="left")
    absent = fill('<span class="nil">{none}</span>', none=pl.lit(word("text.none")))
    return frame.select(
        "project",
        "samples",
        *(pl.coalesce(key, absent).alias(f"p{place}") for place, key in enumerate(keys)),
        pl.coalesce("outside", nothing),
        *_COUNTS,
    )


def _heads(naming: pl.DataFrame, keys: list[str]) -> dict[str, str]:
    first = naming.unique("property", keep="first", maintain_order=True)
    titles = dict(zip(first["property"], zip(first["name"], first["symbol"], first["unit"], strict=True), strict=True))
    heads = {}
    for place, key in enumerate(keys):
        name, symbol, unit = titles[key]
        head = name + (f" ({symbol})" if symbol and symbol != name else "") + (f", {unit}" if unit else "")
        heads[f"p{place}"] = printable(head)
    return heads


def _table_html(frame: pl.DataFrame, heads: dict[str, str]) -> str:
    """Return the table as great-tables draws it, without its own style sheet: ours serves dark, phone and print."""
    drawn = (
        GT(frame, id=_TABLE_ID, rowname_col="project")
        # Every cell is markup made by `fill`, which escapes what it takes: hand it through as it is.
        .fmt(lambda cell: cell, columns=frame.columns)
        .tab_stubhead(word("head.project"))
        .cols_label(cases={**{name: word(text) for name, text in _LABELS.items()}, **heads})
        .cols_align("left")
    )
    if heads:
        drawn = drawn.tab_spanner(word("summary.means"), columns=list(heads), id="means")
    drawn = drawn.tab_spanner(word("summary.attention"), columns=list(_COUNTS), id="attention")
    whole = drawn.as_raw_html()
    return whole[whole.index("<table") : whole.rindex("</table>")] + "</table>"


def _lead(tables: Tables, projects: pl.DataFrame, samples: pl.DataFrame) -> str:
    """Return the page in a few sentences: how much there is, of which days, and how much of it fits."""
    totals = take(tables, "project_totals").join(projects, on="project_id", how="semi")
    counts = {"projects": counted(projects.height, "project"), "samples": counted(samples.height, "sample")}
    days = samples.filter(pl.col("taken_on").is_not_null()).select(
        first=day(pl.col("taken_on").min()), last=day(pl.col("taken_on").max())
    )
    first, last = days.row(0)
    if first is None:
        start = word("summary.lead", **counts)
    elif first == last:
        start = word("nothing.one_day", **counts, day=first)
    else:
        start = word("summary.lead_taken", **counts, first=first, last=last)
    judged = int(totals.select(pl.sum_horizontal("passed", "failed", "in_doubt").sum()).item() or 0)
    if not judged:
        return f"{start} {word('summary.lead_unjudged')}"
    passed = int(totals["passed"].sum())
    within = word("summary.lead_within", passed=spaced(passed), judged=counted(judged, "judged_result"))
    return f"{start} {within}"


def _refusals_html(tables: Tables) -> tuple[str, int]:
    rows = refused.shown(take(tables, "refusals"))
    listed = rows.head(REFUSALS_SHOWN).with_columns(pl.lit("all").alias("owner"))
    return tables_by_owner(listed, "owner", refused.columns()).get("all", ""), rows.height


def _orphans_html(samples: pl.DataFrame) -> str:
    rows = samples.filter(pl.col("project_slug").is_null())
    names = phrase(
        "summary.orphan",
        sample_html=fill('<a href="sample/{slug}.html"><bdi>{label}</bdi></a>', label=clipped(pl.col("sample_id"), 80)),
        project_html=fill("<bdi>{label}</bdi>", label=clipped(pl.col("project_id").fill_null(word("text.none")), 80)),
    )
    item = fill("<li>{names_html}</li>", names_html=names)
    return "".join(rows.head(REFUSALS_SHOWN).select(item.alias("item"))["item"].to_list())


def _ordered(tables: Tables, projects: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return the projects active last, by name, and the others, the last active first."""
    active = take(tables, "project_totals").select("project_id", "active_on")
    dated = projects.join(active, on="project_id", how="left", maintain_order="left")
    by_day = dated.sort("active_on", "project_id", descending=[True, False], nulls_last=True)
    return by_day.head(PROJECTS_SHOWN).sort("project_id"), by_day.slice(PROJECTS_SHOWN)


def _earlier_html(earlier: pl.DataFrame) -> str:
    item = fill(
        '<li><a href="project/{slug}.html"><bdi>{name}</bdi></a> <span class="more date">{day}</span></li>',
        day=day(pl.col("active_on")),
        name=clipped(pl.coalesce("project_name", "project_id"), 80),
    )
    return "".join(earlier.head(EARLIER_SHOWN).select(item.alias("item"))["item"].to_list())


def summary_html(tables: Tables) -> bytes:
    """Return the summary page of all projects.

    Parameters
    ----------
    tables
        The tables handed in (`verbs.tables.TABLES`).
    """
    projects, samples = register(tables)
    naming = names(pl.concat([take(tables, name).select("property", "point") for name in _NAMED]), tables)
    figures = take(tables, "project_figures").join(projects, on="project_id", how="semi", maintain_order="left")
    keys = overview.key_properties(figures)
    shown, earlier = _ordered(tables, projects)
    table_html = ""
    if not shown.is_empty():
        table_html = _table_html(_frame(tables, shown, samples, naming, keys), _heads(naming, keys))
    refusals_html, refusals_count = _refusals_html(tables)
    return page(
        "summary.html",
        as_of(tables),
        script="tables.js",
        trend=TREND,
        lead=_lead(tables, projects, samples),
        table_html=table_html,
        earlier_html=_earlier_html(earlier),
        earlier_count=earlier.height,
        earlier_shown=EARLIER_SHOWN,
        **comparing.sections(tables, projects, naming),
        refusals_html=refusals_html,
        refusals_count=refusals_count,
        refusals_shown=min(refusals_count, REFUSALS_SHOWN),
        orphans_html=_orphans_html(samples),
        orphans_count=int(samples["project_slug"].is_null().sum()),
        orphans_shown=REFUSALS_SHOWN,
    )
