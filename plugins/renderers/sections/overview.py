"""The cells of the cross-project table: one row per project, one column per key property."""

import polars as pl

from plugins.renderers.charts.strip import scales, strips
from plugins.renderers.verbs.figures import fixed
from plugins.renderers.verbs.markup import clipped, fill, given
from plugins.renderers.verbs.results import Tables
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.verdicts import SHAPES, distance

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


def key_properties(judged: pl.DataFrame, results: pl.DataFrame) -> list[str]:
    """Return the properties that get a column: preferred ones first, then the most judged, at most seven.

    Where nothing was judged at all, the preferred properties that have results stand in.
    """
    counted = judged.filter(pl.col("verdict") != "not_judged").group_by("property").len()
    by_count = counted.sort(["len", "property"], descending=[True, False])["property"].to_list()
    present = set(by_count) or set(results["property"].to_list())
    first = [name for name in PREFERRED if name in present]
    return (first + [name for name in by_count if name not in first])[:COLUMNS]


def _one_at(values: pl.DataFrame) -> pl.DataFrame:
    """Keep, of each cell, the `at` with the most judged values; `more` counts the other judged ones."""
    judged = pl.col("verdict").is_in(["pass", "fail"]).sum()
    sizes = values.group_by(*_CELL, "point").agg(judged.alias("judged"), pl.len().alias("size"))
    ordered = sizes.sort("judged", "size", "point", descending=[True, True, True], nulls_last=True)
    chosen = ordered.group_by(_CELL, maintain_order=True).agg(
        pl.col("point").first(), ((pl.col("judged") > 0).sum().cast(pl.Int64) - 1).alias("more")
    )
    return values.join(chosen, on=[*_CELL, "point"], how="inner", nulls_equal=True, maintain_order="left")


def _statistics(values: pl.DataFrame) -> pl.DataFrame:
    failed = pl.col("verdict") == "fail"
    limits = pl.col("limit").filter(pl.col("counts")).drop_nulls().unique(maintain_order=True)
    figures = pl.col("value").filter(pl.col("counts"))
    return values.group_by(_CELL, maintain_order=True).agg(
        pl.col("name", "unit", "decimals", "at_text", "anchor", "more").first(),
        figures.len().alias("n"),
        figures.mean().alias("mean"),
        figures.std().alias("s"),
        failed.sum().alias("failed"),
        (~pl.col("counts")).sum().alias("left_out"),
        limits.str.join(" or ").alias("limits"),
    )


def _figure_html() -> pl.Expr:
    mean, spread = fixed(pl.col("mean"), pl.col("decimals")), fixed(pl.col("s"), pl.col("decimals"))
    s_html = given("s", fill(' <span class="pm">± {s}</span>', s=spread))
    some = fill("<strong>{mean}</strong>{s_html}", mean=mean, s_html=s_html)
    return pl.when(pl.col("n") > 0).then(some).otherwise(pl.lit('<strong class="none">no figure</strong>'))


def cells(results: pl.DataFrame, projects: pl.DataFrame, keys: list[str]) -> pl.DataFrame:
    """Return the markup of the property cells, wide: project_id and one column per key property.

    Parameters
    ----------
    results
        `verbs.results.results` with project_id.
    projects
        Columns project_id and slug.
    keys
        `key_properties`.
    """
    values = _one_at(results.filter(pl.col("property").is_in(keys) & pl.col("project_id").is_not_null()))
    counted = values.filter(pl.col("counts"))
    drawn = strips(counted, scales(counted, ["property"]), ["property"], _CELL)
    frame = _statistics(values).join(drawn, on=_CELL, how="left").join(projects, on="project_id", how="left")
    failing = f'<span class="mark fail"><span aria-hidden="true">{SHAPES["outside"]}</span> {{failed}} outside</span>'
    cell = fill(
        '<span class="lbl">{title}</span><a class="fig" href="project/{slug}.html#{anchor}">{figure_html}</a>'
        '{strip_html}<span class="small">{limit}</span><span class="small">n {n}{at}</span>'
        "{outside_html}{left_html}{more_html}",
        title=_title(),
        figure_html=_figure_html(),
        limit=pl.when(pl.col("limits") != "").then(pl.col("limits")).otherwise(pl.lit("no limit")),
        at=given("at_text", pl.concat_str(pl.lit(", "), pl.col("at_text"))),
        outside_html=_if_any("failed", failing),
        left_html=_if_any("left_out", '<span class="small">{left_out} left out</span>'),
        more_html=_if_any("more", '<span class="small">{more} more on its page</span>'),
    )
    made = frame.select(*_CELL, cell.alias("cell"))
    wide = made.pivot(on="property", on_columns=keys, index="project_id", values="cell", aggregate_function="first")
    return wide


def _if_any(count: str, pattern: str) -> pl.Expr:
    """Return the filled pattern where the count is above zero, else nothing."""
    return pl.when(pl.col(count) > 0).then(fill(pattern)).otherwise(pl.lit(""))


def _title() -> pl.Expr:
    return pl.concat_str("name", pl.when(pl.col("unit") != "").then("unit"), separator=", ", ignore_nulls=True)


def project_cells(projects: pl.DataFrame, samples: pl.DataFrame) -> pl.DataFrame:
    """Return columns project_id, project, samples: who it is, how many samples, when the last was taken."""
    counts = samples.group_by("project_id").agg(pl.len().alias("n"), pl.col("taken_on").max().alias("last"))
    who = fill(
        '<a class="who" href="project/{slug}.html"><bdi>{name}</bdi></a>{character_html}'
        '<span class="small"><bdi>{laboratory}</bdi></span>',
        name=clipped(pl.coalesce("project_name", "project_id"), 80),
        character_html=given(
            "character",
            fill('<span class="small"><bdi>{character}</bdi></span>', character=clipped(pl.col("character"), 80)),
        ),
        laboratory=clipped(pl.coalesce("laboratory_name", "laboratory_id"), 80),
    )
    last = given("last", fill('<span class="small">last taken <span class="date">{last}</span></span>'))
    size = fill(
        '<span class="lbl">Samples</span><a class="fig" href="project/{slug}.html#samples">'
        "<strong>{n}</strong></a>{last_html}",
        n=pl.col("n").fill_null(0),
        last_html=last,
    )
    return projects.join(counts, on="project_id", how="left", maintain_order="left").select(
        "project_id", who.alias("project"), size.alias("samples")
    )


def share_cells(judged: pl.DataFrame) -> pl.DataFrame:
    """Return columns project_id, within: share of the judged results that lie within their limits."""
    passed, failed = (pl.col("verdict") == "pass").sum(), (pl.col("verdict") == "fail").sum()
    counts = judged.group_by("project_id").agg(passed.alias("passed"), (passed + failed).alias("of"))
    share = fixed(100 * pl.col("passed") / pl.col("of"), pl.lit(0))
    text = fill(
        '<span class="lbl">Within limits</span><strong>{share} %</strong><span class="small">{passed} of {of}</span>',
        share=share,
    )
    return counts.filter(pl.col("of") > 0).select("project_id", text.alias("within"))


def worst_cells(judged: pl.DataFrame, samples: pl.DataFrame) -> pl.DataFrame:
    """Return columns project_id, worst: the result farthest outside its limit.

    Parameters
    ----------
    judged
        `verbs.results.verdicts` with project_id.
    samples
        Columns sample_id and slug.

    Notes
    -----
    Distances of different properties compare as shares of the width between the limits, or of the limit where only one
    is set.
    """
    width = pl.col("upper") - pl.col("lower")
    one = pl.coalesce("upper", "lower").abs()
    scale = pl.when(width > 0).then(width).otherwise(one)
    failing = (
        judged.filter(pl.col("verdict") == "fail")
        .with_columns(distance().alias("away"))
        .with_columns((pl.col("away") / scale).alias("share"))
        .sort("share", "sample_id", "limit_id", descending=[True, False, False], nulls_last=True)
        .unique("project_id", keep="first", maintain_order=True)
        .join(samples.select("sample_id", "slug"), on="sample_id", how="left", maintain_order="left")
    )
    by = fixed(pl.col("away"), pl.col("decimals"))
    text = fill(
        '<span class="lbl">Worst result</span><span class="worst">{title}</span>'
        '<span class="mark fail"><span aria-hidden="true">{shape}</span> {by} {side}</span>'
        '<a class="small" href="sample/{slug}.html"><bdi>{sample}</bdi></a>',
        shape=pl.col("side").replace_strict(SHAPES, default="", return_dtype=pl.String),
        by=by,
        sample=clipped(pl.col("sample_id"), 40),
    )
    return failing.select("project_id", text.alias("worst"))


def open_cells(tables: Tables, results: pl.DataFrame, projects: pl.DataFrame, owner: pl.DataFrame) -> pl.DataFrame:
    """Return columns project_id, missing, doubtful, waiting: counts that lead to the project's lists.

    Parameters
    ----------
    tables
        The tables handed in.
    results
        `verbs.results.results` with project_id.
    projects
        Columns project_id, slug.
    owner
        Columns sample_id, project_id.
    """
    flagged = results.filter(pl.col("flags").fill_null("") != "")
    lists = {
        "missing": owned(take(tables, "missing"), owner),
        "doubtful": flagged,
        "waiting": owned(take(tables, "refusals"), owner),
    }
    labels = {"missing": "Missing", "doubtful": "Doubtful", "waiting": "Refused or waiting"}
    frame = projects
    for name, rows in lists.items():
        counts = rows.group_by("project_id").agg(pl.len().alias(f"{name}_n"))
        frame = frame.join(counts, on="project_id", how="left", maintain_order="left")
    return frame.select("project_id", *(_count_html(name, label).alias(name) for name, label in labels.items()))


def _count_html(name: str, label: str) -> pl.Expr:
    count = pl.col(f"{name}_n").fill_null(0)
    none = pl.lit(f'<span class="lbl">{label}</span><span class="nil">0</span>')
    some = fill(
        f'<span class="lbl">{label}</span><a class="fig" href="project/{{slug}}.html#{name}">'
        "<strong>{n}</strong></a>",
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
