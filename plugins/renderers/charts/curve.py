"""Curves: one plot per owner with a line per series, drawn for all owners at once."""

from collections.abc import Callable

import polars as pl

from plugins.renderers.charts.frame import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH, Axis, frame_svg
from plugins.renderers.verbs.figures import plain
from plugins.renderers.verbs.markup import by_owner, fill
from plugins.renderers.verbs.words import filled, word

#: Points of one line; more would not be seen.
_POINTS = 120
#: Styles of lines, told apart by dashes as well as by colour (`style.css`: s0 …).
_STYLES = 4


def _share(axis: Axis, value: pl.Expr) -> pl.Expr:
    if axis.log:
        return (value / axis.start).log() / pl.lit(axis.end / axis.start).log()
    if axis.power != 1:
        start, end = float(axis.start**axis.power), float(axis.end**axis.power)
        return (value.pow(axis.power) - start) / (end - start)
    return (value - axis.start) / (axis.end - axis.start)


def placed(x: Axis, y: Axis, height: pl.Expr | None = None) -> pl.Expr:
    """Return the place in the plot, as a path names it, of column x and of `height`, else of column y."""
    height = pl.col("y") if height is None else height
    across = LEFT + _share(x, pl.col("x")).clip(0, 1) * (WIDTH - LEFT - RIGHT)
    up = HEIGHT - BOTTOM - _share(y, height).clip(0, 1) * (HEIGHT - TOP - BOTTOM)
    return pl.concat_str(across.round(1), pl.lit(" "), up.round(1))


def thinned(points: pl.DataFrame) -> pl.DataFrame:
    """Return every k-th point of each line and its last, at most about 120; columns owner, series, x, y."""
    line = ["owner", "series"]
    sized = points.sort("owner", "series", "x").with_columns(
        pl.int_range(pl.len()).over(line).alias("order"), pl.len().over(line).alias("size")
    )
    every = (pl.col("size") // _POINTS).clip(1)
    wanted = (pl.col("order") % every == 0) | (pl.col("order") == pl.col("size") - 1)
    return sized.filter(wanted).drop("order", "size")


def _lines(points: pl.DataFrame, x: Axis, y: Axis) -> pl.DataFrame:
    paths = (
        points.with_columns(placed(x, y).alias("dot"))
        .group_by("owner", "series", maintain_order=True)
        .agg(pl.col("dot").str.join("L"))
        .with_columns((pl.int_range(pl.len()).over("owner") % _STYLES).alias("style"))
    )
    drawn = fill('<path class="curve s{style}" d="M{dot}"/>')
    return paths.select("owner", drawn.alias("curve_html"))


def _bands(bands: pl.DataFrame, x: Axis, y: Axis) -> pl.DataFrame:
    """Return upright bars from lower to upper at x."""
    ends = bands.with_columns(
        placed(x, y, pl.coalesce("upper", pl.lit(y.end))).alias("top"),
        placed(x, y, pl.coalesce("lower", pl.lit(y.start))).alias("foot"),
    )
    drawn = fill('<path class="tolerance" d="M{top}L{foot}"/>')
    return ends.select("owner", drawn.alias("curve_html"))


def _guides(guides: pl.DataFrame, x: Axis, y: Axis) -> pl.DataFrame:
    """Return one thin line per owner, for what the curves are held against."""
    paths = guides.sort("owner", "x").with_columns(placed(x, y).alias("dot"))
    lines = paths.group_by("owner", maintain_order=True).agg(pl.col("dot").str.join("L"))
    return lines.select("owner", fill('<path class="guide" d="M{dot}"/>').alias("curve_html"))


def _marks(marks: pl.DataFrame, x: Axis, y: Axis) -> pl.DataFrame:
    fits = pl.col("x").is_between(min(x.start, x.end), max(x.start, x.end))
    drawn = fill('<path class="limit" d="M{point}m-9 0h18"/>', point=placed(x, y))
    return marks.filter(fits).select("owner", drawn.alias("curve_html"))


def _called(axis: Axis, value: pl.Expr) -> pl.Expr:
    """Return values as they are called at the axis, else to four digits."""
    return value.replace_strict(dict(axis.names), default=plain(value.round_sig_figs(4)), return_dtype=pl.String)


def _said(points: pl.DataFrame, x: Axis, y: Axis, held: pl.DataFrame | None) -> dict[str, str]:
    """Return owner -> title and description of its plot: what is drawn, from where to where, how it lies to limits."""
    ends = points.sort("owner", "series", "x").group_by("owner", "series", maintain_order=True).agg(
        _called(y, pl.col("y").first()).alias("y_from"), _called(x, pl.col("x").first()).alias("x_from"),
        _called(y, pl.col("y").last()).alias("y_to"), _called(x, pl.col("x").last()).alias("x_to"),
    )  # fmt: skip
    gaps = {name: pl.col(name) for name in ("series", "y_from", "x_from", "y_to", "x_to")}
    told = ends.select("owner", filled("plot.line", **gaps).alias("said"))
    if held is not None:
        told = pl.concat([told, held.select("owner", "said").join(told, on="owner", how="semi")])
    whole = told.group_by("owner", maintain_order=True).agg(pl.col("said").str.join("; "))
    title = word("plot.title", x=x.title, y=y.title)
    return dict(
        whole.select("owner", fill("<title>{title}</title><desc>{said}</desc>", title=pl.lit(title))).iter_rows()
    )


def curves(
    points: pl.DataFrame,
    marks: pl.DataFrame,
    axes: Callable[[float], tuple[Axis, Axis]],
    size: str,
    bands: pl.DataFrame | None = None,
    guides: pl.DataFrame | None = None,
    held: pl.DataFrame | None = None,
) -> dict[str, str]:
    """Return owner -> plot.

    Parameters
    ----------
    points
        Columns owner, series, x, y and `size`; sorted lines come out in the order of their series' names.
    marks
        Columns owner, x, y: limits, drawn as short bars.
    axes
        Size class -> axes. Owners of one class share a frame, so that their plots compare.
    size
        Column with the size class of the owner.
    bands
        Columns owner, x, lower, upper: what is allowed at x, drawn as upright bars behind the curves.
    guides
        Columns owner, x, y: one thin line per owner.
    held
        Columns owner, said: in words, how the curves lie to what they are held against; one row per sentence.
    """
    plots: dict[str, str] = {}
    for (value,), group in points.partition_by(size, as_dict=True, maintain_order=True).items():
        x, y = axes(value)
        lines = _lines(thinned(group.select("owner", "series", "x", "y")), x, y)
        owners = group.select("owner").unique()
        layers = [
            draw(frame.join(owners, on="owner", how="semi", maintain_order="left"), x, y)
            for draw, frame in ((_bands, bands), (_guides, guides), (_marks, marks))
            if frame is not None
        ]
        frame = frame_svg(x, y)
        words = _said(group, x, y, held)
        drawn = by_owner(pl.concat([*layers, lines]), "owner", "curve_html")
        plots |= {
            owner: f'<svg class="plot" viewBox="0 0 {WIDTH} {HEIGHT}" role="img">{words[owner]}{frame}{body}</svg>'
            for owner, body in drawn.items()
        }
    return plots


def legends(points: pl.DataFrame, sentence: pl.Expr) -> dict[str, str]:
    """Return owner -> legend: one entry per line with its style and where it ends, in words.

    Parameters
    ----------
    points
        Columns owner, series, x, y.
    sentence
        Text of an entry, of the columns series, x, y of the line's last point.
    """
    last = (
        points.sort("owner", "series", "x")
        .unique(["owner", "series"], keep="last", maintain_order=True)
        .with_columns((pl.int_range(pl.len()).over("owner") % _STYLES).alias("style"))
    )
    entry = fill(
        '<li><svg viewBox="0 0 28 8" width="28" height="8" aria-hidden="true"><path class="curve s{style}" '
        'd="M1 4h26"/></svg> {sentence}</li>',
        sentence=sentence,
    )
    items = by_owner(last.select("owner", entry.alias("item_html")), "owner", "item_html")
    return {owner: f'<ul class="legend">{body}</ul>' for owner, body in items.items()}
