"""Trends: the values of one result in time order against its limits, for all cells at once, wide or in a cell."""

from dataclasses import dataclass

import polars as pl

from plugins.renderers.verbs.figures import fixed, plain
from plugins.renderers.verbs.markup import fill, given
from plugins.renderers.verbs.words import filled


@dataclass(frozen=True)
class Box:
    """Size of a drawing and what it leaves free around the values."""

    width: int
    height: int
    left: int
    top: int


#: Most values drawn in one trend: more could not be told apart.
DRAWN = 150
WIDE = Box(360, 60, 6, 6)
CELL = Box(112, 30, 5, 5)


def _x(box: Box) -> pl.Expr:
    step = (box.width - 2 * box.left) / pl.max_horizontal(pl.col("size"), 1)
    return (box.left + (pl.col("order") + 0.5) * step).round(1)


def _y(box: Box, value: pl.Expr) -> pl.Expr:
    share = ((value - pl.col("low")) / (pl.col("high") - pl.col("low"))).clip(0, 1)
    return (box.height - box.top - share * (box.height - 2 * box.top)).round(1)


#: Side on which a result lies outside -> shape drawn from its place, wide and in a cell.
SHAPES = {
    WIDE: {"above": "m-4 3h8l-4-7z", "below": "m-4-3h8l-4 7z", "outside": "m-3-3h6v6h-6z"},
    CELL: {"above": "m-3 2h6l-3-5z", "below": "m-3-2h6l-3 5z", "outside": "m-2-2h4v4h-4z"},
}


def _point(box: Box) -> pl.Expr:
    at = pl.concat_str(pl.lit("M"), pl.col("x"), pl.lit(" "), pl.col("y"))
    return pl.concat_str(at, pl.col("side").replace_strict(SHAPES[box], default="h0", return_dtype=pl.String))


def _bands(placed: pl.DataFrame, by: list[str], box: Box) -> pl.DataFrame:
    """Return columns `by` and box: what is allowed, one box per run of values with the same limits."""
    same = pl.struct("lower", "upper").rle_id().over(by)
    runs = placed.with_columns(same.alias("stretch")).group_by(*by, "stretch", maintain_order=True).agg(
        pl.col("low", "high", "lower", "upper", "size").first(), pl.col("order").min(), pl.len().alias("long")
    )  # fmt: skip
    step = (box.width - 2 * box.left) / pl.max_horizontal(pl.col("size"), 1)
    top = _y(box, pl.coalesce("upper", "high"))
    height = (_y(box, pl.coalesce("lower", "low")) - top).clip(0).round(1)
    wide = (pl.col("long") * step).round(1)
    drawn = pl.concat_str(
        pl.lit("M"), (box.left + pl.col("order") * step).round(1), pl.lit(" "), top, pl.lit("h"), wide, pl.lit("v"),
        height, pl.lit("h-"), wide, pl.lit("z"),
    )  # fmt: skip
    bounded = pl.col("lower").is_not_null() | pl.col("upper").is_not_null()
    return runs.group_by(by, maintain_order=True).agg(
        pl.when(bounded).then(drawn).otherwise(pl.lit("")).str.join("").alias("box")
    )


def _placed(values: pl.DataFrame, scale: pl.DataFrame, by: list[str], box: Box) -> pl.DataFrame:
    return (
        values.filter(pl.col("value").is_not_null())
        .with_columns(pl.int_range(pl.len()).over(by).alias("order"), pl.len().over(by).alias("size"))
        .join(scale, on=[name for name in by if name in scale.columns], how="left", nulls_equal=True,
              maintain_order="left")
        .with_columns(_x(box).alias("x"), _y(box, pl.col("value")).alias("y"))
        .with_columns(_point(box).alias("dot"), _texts(values).alias("shown"))
    )  # fmt: skip


#: Column -> place of the value among those of its cell.
_ENDS = {"least": pl.col("value").arg_min(), "most": pl.col("value").arg_max()}


def _paths(placed: pl.DataFrame, by: list[str], box: Box) -> pl.DataFrame:
    kind = pl.col("side").fill_null("within")
    failed, left_out = kind.is_in(["above", "below", "outside"]), kind == "not_judged"
    cells = placed.group_by(by, maintain_order=True).agg(
        pl.col("low", "high").first(),
        pl.col("dot").filter(~failed & ~left_out).str.join("").alias("good"),
        pl.col("dot").filter(failed).str.join("").alias("bad"),
        pl.col("dot").filter(left_out).str.join("").alias("open"),
        pl.concat_str(pl.col("x"), pl.lit(" "), pl.col("y")).filter(~left_out).str.join("L").alias("line"),
        pl.col("shown").first().alias("first"), pl.col("shown").last().alias("last"),
        *(pl.col("shown").get(place).alias(name) for name, place in _ENDS.items()),
        pl.len().alias("drawn"), failed.sum().alias("failed"), left_out.sum().alias("left_out"),
    )  # fmt: skip
    line = pl.when(pl.col("line") != "").then(pl.concat_str(pl.lit("M"), pl.col("line"))).otherwise(pl.lit(""))
    return cells.with_columns(line.alias("line"), _said().alias("said")).join(
        _bands(placed, by, box), on=by, how="left", nulls_equal=True, maintain_order="left"
    )


def _texts(values: pl.DataFrame) -> pl.Expr:
    """Return the values as text: to their decimals where these come with them, else to four digits."""
    value = pl.col("value")
    return fixed(value, pl.col("decimals")) if "decimals" in values.columns else plain(value.round_sig_figs(4))


def _said() -> pl.Expr:
    """Return what a trend shows, in words for who has it read aloud: how many, the ends, the range, the verdicts."""
    ends = filled("trend.ends", n=pl.col("drawn"), first=pl.col("first"), last=pl.col("last"))
    reach = filled("trend.reach", least=pl.col("least"), most=pl.col("most"))
    counts = [
        pl.when(pl.col(name) > 0).then(filled(f"trend.{name}", n=pl.col(name))) for name in ("failed", "left_out")
    ]
    several = pl.concat_str(ends, reach, *counts, separator=", ", ignore_nulls=True)
    one = pl.concat_str(filled("trend.one", value=pl.col("last")), *counts, separator=", ", ignore_nulls=True)
    return pl.when(pl.col("drawn") > 1).then(several).otherwise(one)


def latest(values: pl.DataFrame, by: list[str]) -> pl.DataFrame:
    """Return the latest `DRAWN` rows of each cell of values in time order."""
    return values.filter(pl.int_range(pl.len()).reverse().over(by) < DRAWN)


def trends(values: pl.DataFrame, scale: pl.DataFrame, by: list[str], level: float | None = None) -> pl.DataFrame:
    """Return one trend per cell: columns `by` and trend_html.

    Parameters
    ----------
    values
        One row per value in time order: columns `by`, value, lower, upper, side, and decimals where they are known.
    scale
        Columns `by`, low, high (`charts.scale.scales`).
    level
        Value at which a line is drawn all across; None draws none.

    Notes
    -----
    The band follows the limits, which may change with the phase. Triangles point to the side on which a result lies
    outside, open rings were not judged.
    """
    cells = _paths(_placed(values, scale, by, WIDE), by, WIDE).with_columns(
        _y(WIDE, pl.lit(level, pl.Float64)).cast(pl.String).alias("level")
    )
    drawn = fill(
        f'<svg class="trend" viewBox="0 0 {WIDE.width} {WIDE.height}" role="img" aria-label="{{said}}">'
        '<path class="band" d="{box}"/>{level_html}<path class="line" d="{line}"/><path class="dot" d="{good}"/>'
        '<path class="ring" d="{open}"/><path class="ring-in" d="{open}"/><path class="tri" d="{bad}"/></svg>',
        level_html=given("level", fill(f'<path class="axis" d="M0 {{level}}H{WIDE.width}"/>')),
    )
    return cells.select(*by, drawn.alias("trend_html"))


def sparks(values: pl.DataFrame, scale: pl.DataFrame, by: list[str]) -> pl.DataFrame:
    """Return one trend per cell of a table, small and light: columns `by` and spark_html.

    Parameters
    ----------
    values
        One row per value that counts, in time order: columns `by`, value, lower, upper, side.
    scale
        Columns low, high and some of `by`, which name the cells that share a scale.

    Notes
    -----
    The line joins the values; only the last one, as a dot, and those outside their limits, as triangles, are marked.
    """
    placed = _placed(values, scale, by, CELL)
    last = placed.group_by(by, maintain_order=True).agg(pl.col("x", "y").last())
    cells = (
        _paths(placed, by, CELL)
        .with_columns(_said().alias("said"))
        .join(last, on=by, how="left", nulls_equal=True, maintain_order="left")
    )
    drawn = fill(
        f'<svg class="spark" viewBox="0 0 {CELL.width} {CELL.height}" role="img" aria-label="{{said}}">'
        '<path class="band" d="{box}"/><path class="run" d="{line}"/>'
        '<path class="dot" d="M{x} {y}h0"/>{bad_html}</svg>',
        bad_html=given("bad", fill('<path class="tri" d="{bad}"/>')),
    )
    return cells.select(*by, drawn.alias("spark_html"))
