"""Bundles: the curves of many samples in one plot, each linked, told apart by kind; drawn for all owners at once."""

from collections.abc import Callable

import polars as pl

from plugins.renderers.charts.curve import placed
from plugins.renderers.charts.frame import BOTTOM, HEIGHT, RIGHT, WIDTH, Axis, frame_svg
from plugins.renderers.verbs.markup import by_owner, fill


def _lines(points: pl.DataFrame, x: Axis, y: Axis) -> pl.DataFrame:
    paths = (
        points.with_columns(placed(x, y).alias("dot"))
        .group_by("owner", "series", maintain_order=True)
        .agg(pl.col("dot").str.join("L"), pl.col("style", "href", "told").first())
    )
    body = '<title>{told}</title><path class="curve thin s{style}" d="M{dot}"/>'
    linked = fill(f'<a href="{{href}}" tabindex="-1">{body}</a>')
    drawn = pl.when(pl.col("href").is_not_null()).then(linked).otherwise(fill(f"<g>{body}</g>"))
    return paths.select("owner", drawn.alias("curve_html"))


def _marks(marks: pl.DataFrame, x: Axis, y: Axis) -> pl.DataFrame:
    """Return limits: a short bar at x and y with its name beside it, or an upright line where y is null."""
    inside = marks.filter(pl.col("x").is_between(min(x.start, x.end), max(x.start, x.end))).with_columns(
        placed(x, y, pl.coalesce("y", pl.lit(y.end))).alias("point")
    )
    bar = fill('<path class="limit" d="M{point}m-12 0h24"/>')
    upright = fill(f'<path class="guide" d="M{{point}}V{HEIGHT - BOTTOM}"/>')
    across = pl.col("point").str.split(" ").list.get(0).cast(pl.Float64)
    up = pl.col("point").str.split(" ").list.get(1).cast(pl.Float64)
    near_end = across > WIDTH - RIGHT - 90
    name = fill(
        '<text class="name" x="{text_x}" y="{text_y}" text-anchor="{anchor}">{label}</text>',
        text_x=pl.when(near_end).then(across - 4).otherwise(across + 4).round(1),
        text_y=pl.when(pl.col("y").is_null()).then(HEIGHT - BOTTOM - 6 - 13 * pl.col("row")).otherwise(up - 5).round(1),
        anchor=pl.when(near_end).then(pl.lit("end")).otherwise(pl.lit("start")),
    )
    shape = pl.when(pl.col("y").is_null()).then(upright).otherwise(bar)
    rows = inside.with_columns(pl.int_range(pl.len()).over("owner").alias("row"))
    return rows.select("owner", pl.concat_str(shape, name).alias("curve_html"))


def bundles(
    points: pl.DataFrame, marks: pl.DataFrame, about: pl.DataFrame, axes: Callable[[float], tuple[Axis, Axis]]
) -> dict[str, str]:
    """Return owner -> plot.

    Parameters
    ----------
    points
        Columns owner, series, x, y, style (0 to 3, dashes as well as colour), href (null: no link), told (what a curve
        says of itself) and size; in the order in which a curve runs.
    marks
        Columns owner, x, y (null: all the way up) and label: limits and levels, named in the plot.
    about
        Columns owner, title and description, as text.
    axes
        Size class -> axes; owners of one class share a frame, so that their plots compare.
    """
    plots: dict[str, str] = {}
    heads = about.select("owner", fill("<title>{title}</title><desc>{description}</desc>").alias("head_html"))
    for (size,), group in points.partition_by("size", as_dict=True, maintain_order=True).items():
        x, y = axes(float(size))
        owners = group.select("owner").unique(maintain_order=True)
        named = _marks(marks.join(owners, on="owner", how="semi", maintain_order="left"), x, y)
        parts = owners.join(heads, on="owner", how="left", maintain_order="left")
        for name, part in (("marks_html", named), ("lines_html", _lines(group, x, y))):
            body = by_owner(part, "owner", "curve_html")
            found = pl.DataFrame(
                {"owner": list(body), name: list(body.values())}, {"owner": pl.String, name: pl.String}
            )
            parts = parts.join(found, on="owner", how="left", maintain_order="left")
        drawn = fill(
            f'<svg class="plot" viewBox="0 0 {WIDTH} {HEIGHT}"><g role="img">{{head_html}}{{frame_html}}</g>'
            "{lines_html}{marks_html}</svg>",
            frame_html=pl.lit(frame_svg(x, y)),
        )
        plots |= dict(parts.select("owner", drawn.alias("plot_html")).iter_rows())
    return plots
