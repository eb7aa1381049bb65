"""The work list of all projects, put together."""

import polars as pl

from plugins.renderers.sections import work
from plugins.renderers.sections.model import register
from plugins.renderers.verbs.figures import counted
from plugins.renderers.verbs.markup import clipped, fill, gathered, given, phrase
from plugins.renderers.verbs.results import Tables
from plugins.renderers.verbs.shell import as_of, day_of, page, tables_by_owner, tables_of
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.words import capital, word

#: Items listed per project and on the whole page; all are counted.
PER_PROJECT, SHOWN = 60, 1000
#: Lots in the table of counts.
LOTS_SHOWN = 300


def _counts_html(items: pl.DataFrame) -> str:
    """Return the table of counts: one row per project, mix and lot, most items first."""
    by = ["project_id", "project_slug", "mix_id", "lot"]
    rows = work.counts(items, by).with_columns(pl.sum_horizontal(f"{name}_n" for name in work.GROUPS).alias("all_n"))
    rows = rows.sort("all_n", "project_id", "mix_id", "lot", descending=[True, False, False, False], nulls_last=True)
    named = rows.head(LOTS_SHOWN).with_columns(
        pl.lit("all").alias("owner"),
        clipped(pl.col("project_id").fill_null(word("due.no_project")), 60).alias("project"),
        pl.col("project_slug").fill_null("none").alias("anchor"),
        clipped(pl.col("mix_id"), 60).alias("mix"),
        clipped(pl.col("lot"), 40).alias("lot_text"),
        # A count of none stays empty: what needs work stands out, and cards on a phone leave it out.
        *(pl.col(f"{name}_n").replace(0, None) for name in work.GROUPS),
    )
    heads = {
        word("head.project"): '<a href="#p-{anchor}"><bdi>{project}</bdi></a>',
        word("head.mix"): "<bdi>{mix}</bdi>",
        word("head.lot_alone"): "<bdi>{lot_text}</bdi>",
        **{capital(word(f"due_group.{name}")): f"{{{name}_n}}" for name in work.GROUPS},
    }
    return tables_by_owner(named, "owner", heads, kind="cards tally").get("all", "")


def _shown(items: pl.DataFrame) -> pl.DataFrame:
    first = items.with_columns(pl.int_range(pl.len()).over("project_id").alias("place"))
    return first.filter(pl.col("place") < PER_PROJECT).head(SHOWN)


def _projects_html(items: pl.DataFrame, known: pl.DataFrame) -> str:
    """Return a section per project with its items, the project with most late ones first."""
    by = ["project_id", "project_slug"]
    sizes = items.group_by(by, maintain_order=True).agg(
        pl.len().alias("of"), (pl.col("state") == "late").sum().alias("late_of")
    )
    tables = tables_of(_shown(items), by, work.columns())
    rows = (
        sizes.join(tables, on=by, how="left", nulls_equal=True, maintain_order="left")
        .join(known, on="project_id", how="left", maintain_order="left")
        .sort("late_of", "of", "project_id", descending=[True, True, False], nulls_last=True)
    )
    title = clipped(pl.coalesce("project_name", "project_id", pl.lit(capital(word("due.no_project")))), 80)
    page_link = given(
        "page",
        fill(' <a class="more" href="project/{page}.html">{words}</a>', words=pl.lit(word("due.project_page"))),
    )
    cut = pl.when(pl.col("of") > PER_PROJECT).then(
        fill('<p class="small">{said_html}</p>', said_html=phrase("due.first", all=pl.col("of")))
    )
    section = fill(
        '<section id="p-{anchor}"><h2><bdi>{title}</bdi>{link_html}</h2>{cut_html}{table_html}</section>',
        anchor=pl.col("project_slug").fill_null("none"),
        title=title,
        link_html=page_link,
        cut_html=cut,
        table_html=pl.coalesce(
            "table_html", fill('<p class="small">{said_html}</p>', said_html=phrase("due.unlisted"))
        ),
    )
    listed = rows.select(pl.lit("all").alias("owner"), section.alias("section_html"))
    return "".join(gathered(listed, ["owner"], "section_html")["section_html"].to_list())


def _unset(projects: pl.DataFrame) -> str:
    """Return in words how many projects no specification set asks anything of; nothing where none."""
    number = int((projects["set_id"].fill_null("") == "").sum())
    return " " + word("nothing.unset", projects=counted(number, "project")) if number else ""


def _lead(items: pl.DataFrame, day: str, samples: pl.DataFrame) -> str:
    if items.is_empty() and samples.is_empty():
        return word("nothing.registered")
    if items.is_empty():
        return word("due.lead_none")
    late, due = (int((items["state"] == state).sum()) for state in ("late", "due"))
    count = counted(items.height, "item")
    told = word("due.on_day", items=count, day=day) if day else count
    return word("due.lead", items=told, late=late, due=due, open=items.height - late - due)


def work_html(tables: Tables) -> bytes:
    """Return the work list of all projects.

    Parameters
    ----------
    tables
        The tables handed in (`verbs.tables.TABLES`).
    """
    projects, samples = register(tables)
    items = work.anchors(work.worded(take(tables, "work"), samples, ""))
    run = take(tables, "run")
    stamp = "" if run.is_empty() else day_of(run["finished_at"][-1] or "")
    known = projects.select("project_id", "project_name", pl.col("slug").alias("page"))
    return page(
        "due.html",
        as_of(tables),
        lead=_lead(items, stamp, samples) + _unset(projects),
        counts_html="" if items.is_empty() else _counts_html(items),
        projects_html="" if items.is_empty() else _projects_html(items, known),
    )
