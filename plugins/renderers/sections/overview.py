"""The cells of the cross-project table: one row per project, one column per key property."""

import polars as pl

from plugins.renderers.charts.scale import scales
from plugins.renderers.charts.trend import sparks
from plugins.renderers.verbs.figures import fixed
from plugins.renderers.verbs.markup import clipped, fill, given, phrase
from plugins.renderers.verbs.presentation import day
from plugins.renderers.verbs.results import Tables, named
from plugins.renderers.verbs.slugs import slugs
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.verdicts import SHAPES, limit_text, side, verdict_words
from plugins.renderers.verbs.words import word

#: Properties shown first where they have limits; the most judged others follow. After the trade's usual acceptance
#: and design properties (common practice).
PREFERRED = (
    "air_voids",
    "vma",
    "vfa",
    "pb",
    "relative_compaction",
    "rut_depth",
    "dust_proportion",
)
#: Columns of properties on the page.
COLUMNS = 7
_CELL = ["project_id", "property"]
_FULL = [*_CELL, "point"]


def key_properties(figures: pl.DataFrame) -> list[str]:
    """Return the properties that get a column: preferred ones first, then the most judged, at most seven.

    Where nothing was judged at all, the preferred properties that have results stand in.

    Parameters
    ----------
    figures
        Table `project_figures`.
    """
    judged = pl.sum_horizontal("passed", "failed", "in_doubt").sum().alias("judged")
    counted = figures.group_by("property").agg(judged).filter(pl.col("judged") > 0)
    by_count = counted.sort(["judged", "property"], descending=[True, False])["property"].to_list()
    present = set(by_count) or set(figures["property"].to_list())
    first = [name for name in PREFERRED if name in present]
    return (first + [name for name in by_count if name not in first])[:COLUMNS]


def listed(figures: pl.DataFrame) -> pl.DataFrame:
    """Return the results whose samples a project's page lists one by one: the preferred and the judged ones."""
    judged = pl.sum_horizontal("passed", "failed", "in_doubt") > 0
    return figures.filter(pl.col("property").is_in(PREFERRED) | judged)


def _one_at(figures: pl.DataFrame) -> pl.DataFrame:
    """Keep, of each cell, the `point` with the most judged values; `more` counts the other judged ones."""
    sized = figures.with_columns(pl.sum_horizontal("passed", "failed", "in_doubt").alias("judged"))
    more = (pl.col("judged") > 0).sum().over(_CELL).cast(pl.Int64) - 1
    ordered = sized.with_columns(more.alias("more")).sort(
        "judged", "n", "point", descending=[True, True, True], nulls_last=True
    )
    return ordered.unique(_CELL, keep="first", maintain_order=True)


def limits(tables: Tables, naming: pl.DataFrame) -> pl.DataFrame:
    """Return columns of `_FULL` and limits: the distinct limits of a result in words, none where they are not known."""
    rows = named(take(tables, "project_limits"), naming).with_columns(limit_text().alias("limit"))
    distinct = pl.col("limit").drop_nulls().unique(maintain_order=True)
    return rows.group_by(_FULL, maintain_order=True).agg(distinct.str.join(word("limit.or")).alias("limits"))


def told_limits() -> pl.Expr:
    """Return the column limits of `limits`, in words where they are not known; null where no limit holds."""
    unknown = pl.lit(word("nothing.unknown_limit"))
    return pl.when(pl.col("limits") == "").then(unknown).otherwise("limits")


def _within(tables: Tables) -> pl.DataFrame:
    """Return columns of `_FULL` and the percent within limits of the lots, of the plan with the most lots."""
    rows = take(tables, "lot_figures").filter(pl.col("lots_within") > 0)
    ordered = rows.sort("lots_within", "plan_id", descending=[True, False])
    return ordered.unique(_FULL, keep="first", maintain_order=True).select(
        *_FULL, "lots_within", "within_mean", "within_least"
    )


def _figure_html() -> pl.Expr:
    mean, spread = fixed(pl.col("mean"), pl.col("decimals")), fixed(pl.col("s"), pl.col("decimals"))
    s_html = given("s", fill(' <span class="pm">± {s}</span>', s=spread))
    none = fill('<strong class="none">{words}</strong>', words=pl.lit(word("density.no_figure")))
    some = fill(
        '<data value="{key}"><strong>{mean}</strong>{s_html}</data>', key=pl.col("mean"), mean=mean, s_html=s_html
    )
    return pl.when(pl.col("n") > 0).then(some).otherwise(none)


def _outside_html() -> pl.Expr:
    judged = pl.sum_horizontal("passed", "failed", "in_doubt")
    failing = fill(
        f'<span class="mark fail"><span aria-hidden="true">{SHAPES["outside"]}</span> {{said_html}}</span>',
        said_html=phrase("summary.outside_of", failed=pl.col("failed"), judged=judged),
    )
    return pl.when(pl.col("failed") > 0).then(failing).otherwise(pl.lit(""))


def _within_html() -> pl.Expr:
    linked = fill(
        '<a href="project/{slug}.html#lots">{said_html}</a>',
        said_html=phrase("summary.pwl", mean=fixed(pl.col("within_mean"), pl.lit(1))),
    )
    both = phrase("summary.pwl_least", pwl_html=linked, least=fixed(pl.col("within_least"), pl.lit(1)))
    return given("lots_within", fill('<span class="small">{both_html}</span>', both_html=both))


def cells(tables: Tables, projects: pl.DataFrame, naming: pl.DataFrame, keys: list[str]) -> pl.DataFrame:
    """Return the markup of the property cells, wide: project_id and one column per key property.

    Parameters
    ----------
    tables
        The tables handed in.
    projects
        Columns project_id and slug.
    naming
        `verbs.results.names` of the figures.
    keys
        `key_properties`.
    """
    figures = take(tables, "project_figures").join(projects, on="project_id", maintain_order="left")
    chosen = named(_one_at(figures.filter(pl.col("property").is_in(keys))), naming)
    for piece in (limits(tables, naming), _within(tables), _sparks(tables, chosen)):
        chosen = chosen.join(piece, on=_FULL, how="left", nulls_equal=True, maintain_order="left")
    # The project lists the samples of a result it judges, or that stands first; of any other its register does.
    opens = listed(chosen).select(*_FULL, pl.concat_str(pl.lit("s"), pl.col("anchor").str.slice(1)).alias("opens"))
    frame = chosen.join(opens, on=_FULL, how="left", nulls_equal=True, maintain_order="left")
    cell = fill(
        '<span class="lbl">{title}</span><a class="fig" href="project/{slug}.html#{to}">{figure_html}</a>'
        '{spark_html}<span class="small">{limit}</span><span class="small">n {n}{at}{left_html}</span>'
        "{outside_html}{within_html}{more_html}",
        title=_title(),
        to=pl.col("opens").fill_null("samples"),
        figure_html=_figure_html(),
        limit=told_limits().fill_null(word("density.none")),
        at=given("at_text", pl.concat_str(pl.lit(", "), pl.col("at_text"))),
        left_html=pl.when(pl.col("left_out") > 0).then(phrase("summary.left_out", n=pl.col("left_out"))),
        outside_html=_outside_html(),
        within_html=_within_html(),
        more_html=pl.when(pl.col("more") > 0).then(
            fill('<span class="small">{said_html}</span>', said_html=phrase("summary.more", n=pl.col("more")))
        ),
    )
    made = frame.select(*_CELL, cell.alias("cell"))
    return made.pivot(on="property", on_columns=keys, index="project_id", values="cell", aggregate_function="first")


def _sparks(tables: Tables, chosen: pl.DataFrame) -> pl.DataFrame:
    """Return the small trends of the chosen cells; those of one column share a scale."""
    values = take(tables, "project_trend").join(
        chosen.select(_FULL), on=_FULL, how="semi", nulls_equal=True, maintain_order="left"
    )
    sided = values.with_columns(side().alias("side"))
    return sparks(sided, scales(values, ["property"]), _FULL)


def _title() -> pl.Expr:
    return pl.concat_str("name", pl.when(pl.col("unit") != "").then("unit"), separator=", ", ignore_nulls=True)


def _groups(tables: Tables) -> pl.DataFrame:
    """Return columns project_id, plants, grades: every plant and binder grade of a project, in words."""
    rows = take(tables, "project_places")

    return rows.group_by("project_id", maintain_order=True).agg(
        pl.col("plant").drop_nulls().unique().sort().str.join(", ").alias("plants"),
        pl.col("binder_grade").drop_nulls().unique().sort().str.join(", ").alias("grades"),
    )


def project_cells(tables: Tables, projects: pl.DataFrame) -> pl.DataFrame:
    """Return columns project_id, project, samples: who it is, how many samples, when it was last active."""
    frame = projects.join(take(tables, "project_totals"), on="project_id", how="left", maintain_order="left")
    frame = frame.join(_groups(tables), on="project_id", how="left", maintain_order="left").with_columns(
        laboratory=pl.coalesce("laboratory_name", "laboratory_id")
    )
    groups = [
        given(name, fill(f'<span class="small" data-group="{group}"><bdi>{{text}}</bdi></span>', text=clipped(
            pl.col(name), 80)))
        for name, group in _GROUPS.items()
    ]  # fmt: skip
    who = fill(
        '<a class="who" href="project/{slug}.html"><bdi>{name}</bdi></a>{character_html}{groups_html}',
        name=clipped(pl.coalesce("project_name", "project_id"), 80),
        character_html=given(
            "character",
            fill('<span class="small"><bdi>{character}</bdi></span>', character=clipped(pl.col("character"), 80)),
        ),
        groups_html=pl.concat_str(groups),
    )
    date = fill('<span class="date">{day}</span>', day=day(pl.col("active_on")))
    active = phrase("summary.last_active", day_html=date)
    last = given("active_on", fill('<span class="small">{said_html}</span>', said_html=active))
    size = fill(
        '<span class="lbl">{head}</span><a class="fig" href="project/{slug}.html#samples">'
        '<data value="{n}"><strong>{n}</strong></data></a>{last_html}',
        head=pl.lit(word("head.samples")),
        n=pl.col("samples").fill_null(0),
        last_html=last,
    )
    return frame.select("project_id", "active_on", who.alias("project"), size.alias("samples"))


#: Column of a project -> the name of the group it makes.
_GROUPS = {"laboratory": "laboratory", "region": "region", "plants": "plant", "grades": "grade"}


def outside_cells(tables: Tables, projects: pl.DataFrame, naming: pl.DataFrame) -> pl.DataFrame:
    """Return columns project_id, outside: share of judgements outside their limits, and the result farthest out.

    Parameters
    ----------
    tables
        The tables handed in.
    projects
        Columns project_id and slug.
    naming
        `verbs.results.names` of the worst results.
    """
    totals = take(tables, "project_totals").filter(pl.col("failing_pct").is_not_null())
    worst = named(take(tables, "project_worst"), naming).with_columns(side().alias("side"))
    farthest = fill(
        '<span class="worst small">{worst_html}</span>'
        '<span class="mark fail"><span aria-hidden="true">{shape}</span> {by} {word}</span>'
        '<a class="small" href="sample/{slug}.html"><bdi>{sample}</bdi></a>',
        shape=pl.col("side").replace_strict(SHAPES, default="", return_dtype=pl.String),
        worst_html=phrase("summary.worst", result=pl.col("title")),
        by=fixed(pl.col("away"), pl.col("decimals")),
        word=verdict_words(),
        sample=clipped(pl.col("sample_id"), 40),
    )
    told = worst.join(slugs(worst["sample_id"]), on="sample_id", how="left").select(
        "project_id", farthest.alias("farthest_html")
    )
    text = fill(
        '<span class="lbl">{head}</span><a class="fig" href="project/{slug}.html#results">'
        '<data value="{failing_pct}"><strong>{share} %</strong></data></a>'
        '<span class="small">{of_html}</span>{doubt_html}{farthest_html}',
        head=pl.lit(word("summary.outside")),
        share=fixed(pl.col("failing_pct"), pl.lit(0)),
        of_html=phrase("summary.part_of", part=pl.col("failed"), all=pl.sum_horizontal("passed", "failed", "in_doubt")),
        doubt_html=pl.when(pl.col("in_doubt") > 0).then(
            fill('<span class="small">{said_html}</span>', said_html=phrase("summary.in_doubt", n=pl.col("in_doubt")))
        ),
    )
    frame = totals.join(projects, on="project_id", maintain_order="left").join(told, on="project_id", how="left")
    return frame.select("project_id", text.alias("outside"))


def count_cells(counts: pl.DataFrame, projects: pl.DataFrame, labels: dict[str, tuple[str, str]]) -> pl.DataFrame:
    """Return project_id and a column per label: counts that lead to the project's lists.

    Parameters
    ----------
    counts
        Column project_id and one column of counts per label.
    projects
        Columns project_id, slug.
    labels
        Column -> words of its label, and the anchor of the list on the project's page.
    """
    frame = projects.join(counts, on="project_id", how="left", maintain_order="left")
    return frame.select("project_id", *(_count_html(name, *told).alias(name) for name, told in labels.items()))


def _count_html(name: str, label: str, anchor: str) -> pl.Expr:
    count = pl.col(name).fill_null(0)
    head = pl.lit(label)
    none = fill('<span class="lbl">{head}</span><data class="nil" value="0">0</data>', head=head)
    some = fill(
        f'<span class="lbl">{{head}}</span><a class="fig" href="project/{{slug}}.html#{anchor}">'
        '<data class="owe" value="{n}"><strong>{n}</strong></data></a>',
        head=head,
        n=count,
    )
    return pl.when(count > 0).then(some).otherwise(none)


def owned(frame: pl.DataFrame, owner: pl.DataFrame) -> pl.DataFrame:
    """Fill in the project of rows that name their sample only.

    Parameters
    ----------
    frame
        Rows with sample_id and project_id.
    owner
        Columns sample_id and project_id, one row per sample.
    """
    known = owner.rename({"project_id": "project_of_sample"}).unique("sample_id", keep="first")
    joined = frame.join(known, on="sample_id", how="left", maintain_order="left")
    return joined.with_columns(pl.coalesce("project_id", "project_of_sample").alias("project_id")).drop(
        "project_of_sample"
    )
