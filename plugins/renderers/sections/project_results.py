"""Results of a project by property, with trend, limits and the samples behind: judged ones first, others folded."""

import polars as pl

from plugins.renderers.charts.scale import scales
from plugins.renderers.charts.trend import DRAWN, latest, trends
from plugins.renderers.sections.model import Model
from plugins.renderers.sections.overview import PREFERRED, limits, listed, told_limits
from plugins.renderers.verbs.figures import fixed
from plugins.renderers.verbs.markup import clipped, fill, given
from plugins.renderers.verbs.results import named
from plugins.renderers.verbs.shell import tables_by_owner
from plugins.renderers.verbs.slugs import slugs
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.verdicts import SHAPES, verdict_words
from plugins.renderers.verbs.words import filled, word

_CELL = ["project_id", "property", "point"]


def by_property(parts: Model) -> dict[str, str]:
    """Return project -> tables of its results by property.

    What was held against a limit stands open, the rest is folded under its number. Where a project holds nothing
    against limits, the properties that are looked at first stand open.
    """
    rows = _rows(parts)
    judged = pl.col("judged") > 0
    any_judged = judged.any().over("project_id")
    rows = rows.with_columns(
        pl.when(any_judged).then(judged).otherwise(pl.col("property").is_in(PREFERRED)).alias("stands")
    )
    columns = {
        word("head.result"): "<b>{title}</b>{behind_html}",
        word("project.mean"): "{figure_html}",
        word("project.limits"): "{limits}",
        word("project.verdicts"): "{outcome_html}",
        word("project.in_time"): "{trend_html}",
    }
    standing, rest = (
        tables_by_owner(rows.filter(chosen), "project_id", columns, row='<tr id="{anchor}">')
        for chosen in (pl.col("stands"), ~pl.col("stands"))
    )
    counts = dict(rows.filter(~pl.col("stands")).group_by("project_id").len().iter_rows())
    heads = {
        project: word("project.unjudged" if project in standing else "project.none_judged", n=count)
        for project, count in counts.items()
    }
    folded = {
        project: f'<details class="fold"><summary>{heads[project]}</summary>{table}</details>'
        for project, table in rest.items()
    }
    return {project: standing.get(project, "") + folded.get(project, "") for project in standing | folded}


def _rows(parts: Model) -> pl.DataFrame:
    """Return one row per result of a project, in the order of the register of properties, with all its cells."""
    results = parts.results.drop_nulls("project_id")
    order = results.select("property", "place_in_list").unique("property")
    figures = take(parts.tables, "project_figures")
    judged = pl.sum_horizontal("passed", "failed", "in_doubt").alias("judged")
    rows = named(figures, parts.naming).join(order, on="property", how="left").with_columns(judged)
    rows = rows.sort("place_in_list", "property", "point", nulls_last=True)
    pieces = [
        limits(parts.tables, parts.naming),
        trends(latest(results, _CELL), scales(results.filter(pl.col("value").is_not_null()), _CELL), _CELL),
        _behind(results, figures),
    ]
    for piece in pieces:
        rows = rows.join(piece, on=_CELL, how="left", nulls_equal=True, maintain_order="left")
    text = [fixed(pl.col(name), pl.col("decimals")).alias(f"{name}_text") for name in ("mean", "s", "least", "most")]
    return rows.with_columns(text).with_columns(
        told_limits().fill_null(word("project.no_limit")).alias("limits"),
        pl.when(pl.col("n") > 0).then(_figure_html()).otherwise(pl.lit(word("density.no_figure"))).alias("figure_html"),
        _outcome_html().alias("outcome_html"),
    )


def _behind(results: pl.DataFrame, figures: pl.DataFrame) -> pl.DataFrame:
    """Return columns of `_CELL` and behind_html: the latest samples behind a figure, folded, each with its own."""
    sizes = results.group_by(_CELL).len("size")
    wanted = latest(results, _CELL).join(listed(figures), on=_CELL, how="semi", nulls_equal=True, maintain_order="left")
    wanted = wanted.join(slugs(wanted["sample_id"]), on="sample_id", how="left", maintain_order="left")
    mark = fill(
        ' <span class="mark {tone}" role="img" aria-label="{words}">{shape}</span>',
        tone=pl.when(pl.col("side").is_in(["in_doubt", "not_judged"])).then(pl.lit("open")).otherwise(pl.lit("fail")),
        words=verdict_words(),
        shape=pl.col("side").replace_strict(SHAPES, default="", return_dtype=pl.String),
    )
    item = fill(
        '<li><a href="../sample/{slug}.html"><bdi>{label}</bdi></a> {figure}{side_html}</li>',
        label=clipped(pl.col("sample_id"), 60),
        figure=pl.coalesce("shown", pl.lit(word("sample.withheld"))),
        # Most lie within: only the others are marked.
        side_html=pl.when(pl.col("side").is_not_null() & (pl.col("side") != "within")).then(mark),
    )
    items = wanted.select(*_CELL, "anchor", item.alias("item_html"))
    joined = (
        items.group_by(*_CELL, "anchor", maintain_order=True)
        .agg(pl.col("item_html").str.join(""))
        .join(sizes, on=_CELL, how="left", nulls_equal=True, maintain_order="left")
    )
    told = filled("project.behind_latest", n=pl.col("size"), shown=pl.lit(str(DRAWN)))
    folded = fill(
        '<details><summary>{head}</summary><ul class="columns" id="s{rest}">{item_html}</ul></details>',
        head=pl.when(pl.col("size") > DRAWN).then(told).otherwise(filled("project.behind", n=pl.col("size"))),
        rest=pl.col("anchor").str.slice(1),
    )
    return joined.select(*_CELL, folded.alias("behind_html"))


def _figure_html() -> pl.Expr:
    reach = filled("project.reach", n=pl.col("n"), least=pl.col("least_text"), most=pl.col("most_text"))
    return fill(
        '<strong>{mean_text}</strong>{pm_html} {unit}<span class="small">{reach}</span>',
        pm_html=given("s", fill(" ± {s_text}")),
        reach=reach,
    )


def _outcome_html() -> pl.Expr:
    failing = fill(
        f'<span class="mark fail"><span aria-hidden="true">{SHAPES["outside"]}</span> {{said}}</span>',
        said=filled("summary.outside_of", failed=pl.col("failed"), judged=pl.col("judged")),
    )
    every = filled("project.all_within", judged=pl.col("judged"))
    some = filled("project.within", passed=pl.col("passed"), judged=pl.col("judged"))
    passing = fill(
        f'<span class="mark pass"><span aria-hidden="true">{SHAPES["within"]}</span> {{said}}</span>',
        said=pl.when(pl.col("passed") == pl.col("judged")).then(every).otherwise(some),
    )
    # Where nothing is outside, what is neither within lies in doubt: no tick where that holds of all.
    doubtful = fill(
        f'<span class="mark open"><span aria-hidden="true">{SHAPES["in_doubt"]}</span> {{said}}</span>', said=some
    )
    verdict = (
        pl.when(pl.col("failed") > 0)
        .then(failing)
        .when(pl.col("passed") > 0)
        .then(passing)
        .when(pl.col("judged") > 0)
        .then(doubtful)
        .otherwise(pl.lit(word("verdict.not_judged")))
    )
    notes = {
        name: pl.when(pl.col(name) > 0)
        .then(fill('<span class="small">{said}</span>', said=filled(f"project.{name}", n=pl.col(name))))
        .otherwise(pl.lit(""))
        for name in ("in_doubt", "left_out")
    }
    return pl.concat_str(verdict, *notes.values())
