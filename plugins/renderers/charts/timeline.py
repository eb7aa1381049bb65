"""Timelines: results along days against target and limits, every point linked, drawn for all charts at once."""

import polars as pl

from plugins.renderers.charts.scale import scales
from plugins.renderers.charts.trend import SHAPES, WIDE
from plugins.renderers.verbs.figures import plain
from plugins.renderers.verbs.markup import fill, gathered, given
from plugins.renderers.verbs.presentation import day

WIDTH, HEIGHT = 360, 160
LEFT, RIGHT, TOP, BOTTOM = 40, 10, 10, 24
#: What a diamond around the point of a flagged result is drawn by.
_DIAMOND = "m-7 0l7-7l7 7l-7 7z"
#: Ticks aimed at, and the steps between them that give round numbers.
_TICKS = 4


def _x(value: pl.Expr) -> pl.Expr:
    days = (pl.col("end") - pl.col("start")).dt.total_days()
    share = pl.when(days > 0).then((value - pl.col("start")).dt.total_days() / days).otherwise(0.5)
    return (LEFT + 8 + share * (WIDTH - LEFT - RIGHT - 16)).round(1)


def _y(value: pl.Expr) -> pl.Expr:
    share = ((value - pl.col("low")) / (pl.col("high") - pl.col("low"))).clip(0, 1)
    return (HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)).round(1)


def _frames(values: pl.DataFrame, by: list[str]) -> pl.DataFrame:
    """Return the domain of each chart: columns `by`, low, high, start, end."""
    reach = values.select(
        *by,
        "value",
        pl.min_horizontal("lower", "target").alias("lower"),
        pl.max_horizontal("upper", "target").alias("upper"),
    )
    days = values.group_by(by, maintain_order=True).agg(
        pl.col("day").min().alias("start"), pl.col("day").max().alias("end")
    )
    return scales(reach, by).join(days, on=by, nulls_equal=True, maintain_order="left")


def _axes(frames: pl.DataFrame, by: list[str]) -> pl.DataFrame:
    """Return grid, round numbers at its lines, and the first and the last day: columns `by`, axes_html."""
    raw = (pl.col("high") - pl.col("low")) / _TICKS
    size = pl.lit(10.0).pow(raw.log10().floor())
    step = pl.when(raw <= size).then(size).when(raw <= 2 * size).then(2 * size).when(raw <= 5 * size).then(
        5 * size).otherwise(10 * size)  # fmt: skip
    ticks = frames.with_columns(step.alias("step")).with_columns(
        pl.int_ranges((pl.col("low") / pl.col("step")).ceil().cast(pl.Int64),
                      (pl.col("high") / pl.col("step")).floor().cast(pl.Int64) + 1).alias("tick")
    ).explode("tick").drop_nulls("tick").with_columns((pl.col("tick") * pl.col("step")).alias("at"))  # fmt: skip
    ticks = ticks.with_columns(_y(pl.col("at")).alias("y"))
    line = fill(
        f'<path class="grid" d="M{LEFT} {{y}}H{WIDTH - RIGHT}"/>'
        f'<text x="{LEFT - 5}" y="{{text_y}}" text-anchor="end">{{label}}</text>',
        text_y=(pl.col("y") + 4).round(1),
        label=plain(pl.col("at")),
    )
    grid = gathered(ticks.select(*by, line.alias("grid_html")), by, "grid_html")
    ends = fill(
        f'<text x="{LEFT + 8}" y="{HEIGHT - 7}" text-anchor="start">{{first}}</text>{{last_html}}',
        first=day(pl.col("start")),
        last_html=pl.when(pl.col("end") > pl.col("start")).then(
            fill(f'<text x="{WIDTH - RIGHT - 8}" y="{HEIGHT - 7}" text-anchor="end">{{last}}</text>',
                 last=day(pl.col("end")))),
    )  # fmt: skip
    drawn = frames.select(*by, ends.alias("ends_html")).join(
        grid, on=by, how="left", nulls_equal=True, maintain_order="left"
    )
    return drawn.select(*by, pl.concat_str(pl.col("grid_html").fill_null(""), "ends_html").alias("axes_html"))


def _allowed(placed: pl.DataFrame, by: list[str]) -> pl.DataFrame:
    """Return limits and target, one stretch per run of results under the same: columns `by`, bands_html, lines_html."""
    same = pl.struct("lower", "upper", "target").rle_id().over(by)
    runs = placed.with_columns(same.alias("stretch")).group_by(*by, "stretch", maintain_order=True).agg(
        pl.col("low", "high", "lower", "upper", "target").first(), pl.col("x").first().alias("from")
    )  # fmt: skip
    runs = runs.with_columns(
        pl.when(pl.col("stretch") == pl.col("stretch").min().over(by))
        .then(float(LEFT))
        .otherwise("from")
        .alias("from"),
        pl.col("from").shift(-1).over(by).fill_null(float(WIDTH - RIGHT)).alias("to"),
        _y(pl.coalesce("upper", "high")).alias("top"),
        _y(pl.coalesce("lower", "low")).alias("foot"),
        *(_y(pl.col(name)).alias(f"{name}_y") for name in ("lower", "upper", "target")),
    )
    bounded = pl.col("lower").is_not_null() | pl.col("upper").is_not_null()
    band = pl.when(bounded).then(fill('<path class="band" d="M{from} {top}H{to}V{foot}H{from}z"/>')).otherwise(
        pl.lit(""))  # fmt: skip
    lines = [
        given(f"{name}_y", fill(f'<path class="{kind}" d="M{{from}} {{{name}_y}}H{{to}}"/>'))
        for name, kind in (("lower", "edge"), ("upper", "edge"), ("target", "aim"))
    ]
    made = runs.select(*by, band.alias("bands_html"), pl.concat_str(lines).alias("lines_html"))
    return made.group_by(by, maintain_order=True).agg(pl.col("bands_html", "lines_html").str.join(""))


def _points(placed: pl.DataFrame, by: list[str]) -> pl.DataFrame:
    """Return the points with their links: columns `by`, points_html."""
    outside = pl.col("side").replace_strict(SHAPES[WIDE], default=None, return_dtype=pl.String)
    at = pl.concat_str(pl.lit("M"), "x", pl.lit(" "), "y").alias("at")
    open_ones = pl.col("side").is_in(["in_doubt", "not_judged"]).fill_null(False)
    shape = (
        pl.when(pl.col("shape").is_not_null())
        .then(fill('<path class="tri" d="{at}{shape}"/>'))
        .when(open_ones)
        .then(fill('<path class="ring" d="{at}h0"/><path class="ring-in" d="{at}h0"/>'))
        .otherwise(fill('<path class="dot" d="{at}h0"/>'))
    )
    flag = pl.when("flagged").then(fill(f'<path class="flagged" d="{{at}}{_DIAMOND}"/>')).otherwise(pl.lit(""))
    body = "<title>{told}</title>{shape_html}{flag_html}"
    linked = fill(f'<a href="{{href}}" tabindex="-1">{body}</a>')
    made = placed.with_columns(outside.alias("shape"), at).with_columns(
        shape.alias("shape_html"), flag.alias("flag_html")
    )
    point = pl.when(pl.col("href").is_not_null()).then(linked).otherwise(fill(f"<g>{body}</g>"))
    return gathered(made.select(*by, point.alias("points_html")), by, "points_html")


def timelines(values: pl.DataFrame, about: pl.DataFrame, by: list[str]) -> pl.DataFrame:
    """Return one chart per group: columns `by` and chart_html.

    Parameters
    ----------
    values
        Columns `by`, day (Date), value, target, lower, upper, side (a key of `verbs.verdicts.SHAPES`, or null),
        flagged (Boolean), href (null: no link) and told, what a point says of itself; in time order.
    about
        Columns `by`, title and description of each chart, as text.

    Notes
    -----
    Triangles point to the side on which a result lies outside, squares where that is not known; open rings were not
    judged, or lie in doubt; a diamond stands around a flagged result. A blunder far off stands at the edge.
    """
    values = values.filter(pl.col("value").is_finite() & pl.col("day").is_not_null())
    frames = _frames(values, by)
    placed = values.join(frames, on=by, nulls_equal=True, maintain_order="left").with_columns(
        _x(pl.col("day")).alias("x"), _y(pl.col("value")).alias("y")
    )
    run = placed.group_by(by, maintain_order=True).agg(pl.concat_str("x", pl.lit(" "), "y").str.join("L").alias("line"))
    parts = [about, _axes(frames, by), _allowed(placed, by), _points(placed, by)]
    for part in parts:
        run = run.join(part, on=by, how="left", nulls_equal=True, maintain_order="left")
    drawn = fill(
        f'<svg class="plot timeline" viewBox="0 0 {WIDTH} {HEIGHT}"><g role="img"><title>{{title}}</title>'
        '<desc>{description}</desc>{bands_html}{axes_html}{lines_html}<path class="run" d="M{line}"/></g>'
        "{points_html}</svg>"
    )
    return run.select(*by, drawn.alias("chart_html"))
