"""Trends: the values of one result in time order against its limits, for all cells at once."""

import polars as pl

from plugins.renderers.verbs.markup import fill, given

WIDTH, HEIGHT = 360, 60
_LEFT, _TOP = 6, 6


def _x() -> pl.Expr:
    step = (WIDTH - 2 * _LEFT) / pl.max_horizontal(pl.col("size"), 1)
    return (_LEFT + (pl.col("order") + 0.5) * step).round(1)


def _y(value: pl.Expr) -> pl.Expr:
    share = ((value - pl.col("low")) / (pl.col("high") - pl.col("low"))).clip(0, 1)
    return (HEIGHT - _TOP - share * (HEIGHT - 2 * _TOP)).round(1)


def _point() -> pl.Expr:
    at = pl.concat_str(pl.lit("M"), pl.col("x"), pl.lit(" "), pl.col("y"))
    shapes = {"above": "m-4 3h8l-4-7z", "below": "m-4-3h8l-4 7z", "outside": "m-3-3h6v6h-6z"}
    return pl.concat_str(at, pl.col("side").replace_strict(shapes, default="h0", return_dtype=pl.String))


def _band(edge: str, other: str) -> pl.Expr:
    half = (WIDTH - 2 * _LEFT) / pl.max_horizontal(pl.col("size"), 1) / 2
    top = _y(pl.coalesce("upper", "high"))
    height = (_y(pl.coalesce("lower", "low")) - top).clip(0).round(1)
    left = (pl.col("x") - half).round(2)
    bounded = pl.col(edge).is_not_null() | pl.col(other).is_not_null()
    box = pl.concat_str(
        pl.lit("M"), left, pl.lit(" "), top, pl.lit("h"), (half * 2).round(2), pl.lit("v"), height,
        pl.lit("h-"), (half * 2).round(2), pl.lit("z"),
    )  # fmt: skip
    return pl.when(bounded).then(box).otherwise(pl.lit(""))


def trends(values: pl.DataFrame, scale: pl.DataFrame, by: list[str], level: float | None = None) -> pl.DataFrame:
    """Return one trend per cell: columns `by` and trend_html.

    Parameters
    ----------
    values
        One row per value in time order: columns `by`, value, lower, upper, side.
    scale
        Columns `by`, low, high (`charts.strip.scales`).
    level
        Value at which a line is drawn all across; None draws none.

    Notes
    -----
    The band is drawn value by value, since limits may change with the phase. Triangles point to the side on which a
    result lies outside, open rings were not judged.
    """
    placed = (
        values.filter(pl.col("value").is_not_null())
        .with_columns(pl.int_range(pl.len()).over(by).alias("order"), pl.len().over(by).alias("size"))
        .join(scale, on=by, how="left", nulls_equal=True)
        .with_columns(_x().alias("x"), _y(pl.col("value")).alias("y"))
        .with_columns(
            _point().alias("dot"),
            _band("lower", "upper").alias("box"),
            _y(pl.lit(level, pl.Float64)).cast(pl.String).alias("level"),
        )
    )
    kind = pl.col("side").fill_null("within")
    failed, left_out = kind.is_in(["above", "below", "outside"]), kind == "not_judged"
    cells = placed.group_by(by, maintain_order=True).agg(
        pl.col("box").str.join(""),
        pl.col("level").first(),
        pl.col("dot").filter(~failed & ~left_out).str.join("").alias("good"),
        pl.col("dot").filter(failed).str.join("").alias("bad"),
        pl.col("dot").filter(left_out).str.join("").alias("open"),
        pl.concat_str(pl.col("x"), pl.lit(" "), pl.col("y")).filter(~left_out).str.join("L").alias("line"),
    )
    line = pl.when(pl.col("line") != "").then(pl.concat_str(pl.lit("M"), pl.col("line"))).otherwise(pl.lit(""))
    drawn = fill(
        f'<svg class="trend" viewBox="0 0 {WIDTH} {HEIGHT}" aria-hidden="true">'
        '<path class="band" d="{box}"/>{level_html}<path class="line" d="{line}"/><path class="dot" d="{good}"/>'
        '<path class="ring" d="{open}"/><path class="ring-in" d="{open}"/><path class="tri" d="{bad}"/></svg>',
        line=line,
        level_html=given("level", fill(f'<path class="axis" d="M0 {{level}}H{WIDTH}"/>')),
    )
    return cells.select(*by, drawn.alias("trend_html"))
