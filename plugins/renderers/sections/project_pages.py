"""Project pages: their sections put together; samples in time order, work to do, mixes, the state in one sentence."""

from collections.abc import Iterator

import polars as pl

from plugins.renderers.charts.trend import DRAWN
from plugins.renderers.sections import density_map, lists, lots, production, work
from plugins.renderers.sections.model import Model, model
from plugins.renderers.sections.overview import key_properties
from plugins.renderers.sections.project_results import by_property
from plugins.renderers.verbs.figures import counted, spaced
from plugins.renderers.verbs.markup import by_owner, clipped, fill, gathered, given, own_words
from plugins.renderers.verbs.presentation import day
from plugins.renderers.verbs.results import Tables
from plugins.renderers.verbs.shell import Cut, as_of, page, tables_by_owner
from plugins.renderers.verbs.slugs import slugs
from plugins.renderers.verbs.tables import of_projects, take
from plugins.renderers.verbs.verdicts import mark_html
from plugins.renderers.verbs.words import filled, word

_SAMPLES = Cut(300, "project.samples_shown")
#: Items of the work list on a project's page; all are counted on the work list.
_ITEMS = Cut(300, "work.shown")


def _samples(parts: Model, keys: list[str]) -> dict[str, str]:
    """Return project -> its samples in time order, a column per key property."""
    key_cells = _key_cells(parts.results.filter(pl.col("property").is_in(keys)), keys)
    rows = parts.samples.join(key_cells, on="sample_id", how="left", maintain_order="left")
    rows = rows.join(_other_failures(parts, keys), on="sample_id", how="left", maintain_order="left")
    rows = rows.join(_open_counts(parts), on="sample_id", how="left", maintain_order="left")
    rows = lists.linked(rows.drop("slug", "taken_on", "place_in_time"), parts)
    numbers = pl.concat_str("lot", "sublot", separator=" / ", ignore_nulls=True)
    lot = pl.when(numbers != "").then(filled("due.lot", lot=numbers))
    rows = rows.with_columns(
        lot.alias("lot_text"),
        clipped(pl.col("place"), 80).alias("spot"),
        clipped(pl.col("lot"), 40).alias("lot"),
        day(pl.col("taken_on")).alias("taken_text"),
    )
    named = parts.naming.unique("property", keep="first", maintain_order=True)
    title = {row["property"]: row["symbol"] or row["name"] for row in named.iter_rows(named=True)}
    columns = {
        word("head.sample"): '{sample_html}<span class="small date">{taken_text}</span>',
        word("project.taken"): '{phase} {material}<span class="small">{lot_text}</span>'
        '<span class="small"><bdi>{spot}</bdi></span>',
        **{own_words(title.get(key, key)): f"{{key{place}_html}}" for place, key in enumerate(keys)},
        word("project.others"): "{others_html}",
        word("project.open"): "{open_html}",
    }
    latest_first = rows.drop_nulls("project_id").reverse()
    return tables_by_owner(latest_first, "project_id", columns, kind="cards matrix", cut=_SAMPLES)


def _judged_where_any(results: pl.DataFrame) -> pl.DataFrame:
    """Leave out the sieves and pass numbers without a limit, where others of the property have one."""
    judged = pl.col("verdict").is_not_null().any()
    here, anywhere = judged.over("project_id", "property", "point"), judged.over("project_id", "property")
    return results.filter(here | ~anywhere)


def _key_cells(results: pl.DataFrame, keys: list[str]) -> pl.DataFrame:
    results = _judged_where_any(results)
    several = pl.col("point").n_unique().over("property") > 1
    prefix = given(pl.when(several).then(pl.col("at_text")), fill('<span class="small">{at_text}</span> '))
    mark = fill(
        ' <span class="mark open"><span aria-hidden="true">⚑</span> <span class="word">{said}</span></span>',
        said=pl.lit(word("project.doubtful")),
    )
    cell = fill(
        "<div>{at_html}{figure} {mark_html}{flag_html}</div>",
        at_html=prefix,
        figure=pl.coalesce("shown", pl.lit(word("sample.withheld"))),
        mark_html=mark_html(),
        flag_html=given("flags", mark),
    )
    cells = results.with_columns(pl.col("judged_value").alias("value")).select(
        "sample_id", "property", cell.alias("cell")
    )
    joined = gathered(cells, ["sample_id", "property"], "cell")
    wide = joined.pivot(on="property", on_columns=keys, index="sample_id", values="cell", aggregate_function="first")
    return wide.rename({key: f"key{place}_html" for place, key in enumerate(keys)})


def _other_failures(parts: Model, keys: list[str]) -> pl.DataFrame:
    failing = parts.results.filter((pl.col("verdict") == "fail") & ~pl.col("property").is_in(keys))
    item = fill("<div>{title} {shown} {mark_html}</div>", mark_html=mark_html())
    cells = failing.with_columns(pl.col("judged_value").alias("value")).select("sample_id", item.alias("others_html"))
    return gathered(cells, ["sample_id"], "others_html")


def _open_counts(parts: Model) -> pl.DataFrame:
    lacking = take(parts.tables, "missing").group_by("sample_id").agg(pl.len().alias("missing"))
    text = fill('<span class="mark open">{said}</span>', said=filled("project.missing", n=pl.col("missing")))
    return lacking.drop_nulls("sample_id").select("sample_id", text.alias("open_html"))


def _work(parts: Model) -> dict[str, str]:
    """Return project -> its items of the work list, the late ones first."""
    items = work.worded(take(parts.tables, "work").drop_nulls("project_id"), parts.samples, "../")
    return tables_by_owner(items, "project_id", work.columns(), cut=_ITEMS)


def _states(parts: Model) -> dict[str, str]:
    """Return project -> how many items of its work list stand in each state."""
    items = take(parts.tables, "work").drop_nulls("project_id")
    states = {state: word(f"work.{state}") for state in ("late", "due", "open")}
    place = pl.col("state").replace_strict({name: at for at, name in enumerate(states)}, default=None)
    named_as = pl.col("state").replace_strict(states, default=pl.col("state"), return_dtype=pl.String)
    counts = items.group_by("project_id", "state").len().sort(place, "state", nulls_last=True)
    said = gathered(
        counts.select("project_id", fill("{said}: {len}", said=named_as).alias("n")), ["project_id"], "n", "; "
    )
    return dict(said.select("project_id", fill("<p>{n_html}.</p>", n_html=pl.col("n"))).iter_rows())


def _mixes(parts: Model) -> dict[str, str]:
    """Return project -> links to the pages of its mixes, with the number of samples."""
    designed = take(parts.tables, "mixes").select("project_id", "mix_id")
    counts = parts.samples.group_by("project_id", "mix_id").agg(pl.len().alias("n"))
    pairs = pl.concat([designed, counts.select("project_id", "mix_id")]).drop_nulls().unique()
    rows = pairs.join(counts, on=["project_id", "mix_id"], how="left").join(slugs(pairs["mix_id"]), on="mix_id")
    link = fill(
        '<li><a href="../mix/{slug}.html"><bdi>{label}</bdi></a> <span class="more">{said}</span></li>',
        label=clipped(pl.col("mix_id"), 80),
        said=filled("project.mix_samples", n=pl.col("n").fill_null(0)),
    )
    ordered = rows.sort("project_id", "mix_id").select("project_id", link.alias("mix_html"))
    return {name: f"<ul>{items}</ul>" for name, items in by_owner(ordered, "project_id", "mix_html").items()}


def _leads(parts: Model) -> dict[str, str]:
    """Return project -> its state in one sentence."""
    samples = dict(parts.samples.group_by("project_id").len().iter_rows())
    verdicts = parts.judged.group_by("project_id").agg(
        (pl.col("verdict") == "pass").sum().alias("passed"), (pl.col("verdict") == "fail").sum().alias("failed")
    )
    judged = {name: (passed, failed) for name, passed, failed in verdicts.iter_rows()}
    leads = {}
    for project in parts.projects["project_id"]:
        passed, failed = judged.get(project, (0, 0))
        taken = counted(samples.get(project, 0), "sample")
        judged_ones = {"passed": spaced(passed), "judged": counted(passed + failed, "judged_result")}
        leads[project] = (
            word("project.lead", samples=taken, **judged_ones)
            if passed + failed
            else word("project.lead_unjudged", samples=taken)
        )
    return leads


def _title_of(parts: Model) -> dict[str, str]:
    text = parts.projects.select("project_id", clipped(pl.coalesce("project_name", "project_id"), 160).alias("title"))
    return dict(text.iter_rows())


def project_pages(tables: Tables, scope: frozenset[str] | None) -> Iterator[tuple[str, bytes]]:
    """Yield slug and page of every project in the scope.

    Parameters
    ----------
    tables
        The tables handed in (`verbs.tables.TABLES`).
    scope
        Ids of the projects to render; None is all.
    """
    stamp, every = as_of(tables), of_projects(tables, scope)
    for name in sorted(every):
        yield _project_page(name, model(every[name]), stamp)


def _project_page(name: str, parts: Model, stamp: str) -> tuple[str, bytes]:
    (project,) = parts.projects.to_dicts()
    sections = {
        "results_html": by_property(parts),
        "lots_html": lots.lots(parts.tables),
        "density_html": density_map.maps(parts.tables),
        "charts_html": production.charts(parts.tables),
        "states_html": _states(parts),
        "work_html": _work(parts),
        "mixes_html": _mixes(parts),
        "samples_html": _samples(parts, key_properties(take(parts.tables, "project_figures"))),
        "missing_html": lists.missing(parts, "project_id"),
        "doubtful_html": lists.doubtful(parts, "project_id"),
        "waiting_html": lists.refusals(parts, "project_id"),
    }
    filled = {section: made.get(name, "") for section, made in sections.items()}
    title, lead = _title_of(parts)[name], _leads(parts)[name]
    return project["slug"], page("project.html", stamp, project=project, title=title, lead=lead, drawn=DRAWN, **filled)
