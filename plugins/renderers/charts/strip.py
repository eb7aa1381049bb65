"""Strips: all values of one cell as ticks against the limit band, for all cells at once."""

import polars as pl

from plugins.renderers.verbs.markup import fill

WIDTH, HEIGHT = 112, 20
#: Margin left and right, so that a tick or an arrow at the edge is whole.
_EDGE = 4
#: Share of the values left out at each end when the scale is set: a single blunder must not squeeze the others.
_TAIL = 0.01


def scales(values: pl.DataFrame, by: list[str]) -> pl.DataFrame:
    """Return one scale per group, over its values and limits: columns `by`, low, high.

    Parameters
    ----------
    values
        Columns `by`, value, lower, upper. The scale is shared by all cells of a group, so that they compare.
    """
    reach = values.group_by(by, maintain_order=True).agg(
        pl.min_horizontal(pl.col("value").quantile(_TAIL, "lower"), pl.col("lower").min(), pl.col("upper").min()).alias(
            "low"
        ),
        pl.max_horizontal(
            pl.col("value").quantile(1 - _TAIL, "higher"), pl.col("lower").max(), pl.col("upper").max()
        ).alias("high"),
    )
    span = pl.col("high") - pl.col("low")
    pad = pl.when(span > 0).then(span * 0.06).otherwise(pl.max_horizontal(pl.col("high").abs() * 0.05, 0.05))
    return reach.with_columns((pl.col("low") - pad).alias("low"), (pl.col("high") + pad).alias("high"))


def _place(value: pl.Expr) -> pl.Expr:
    share = (value - pl.col("low")) / (pl.col("high") - pl.col("low"))
    return (_EDGE + share.clip(0, 1) * (WIDTH - 2 * _EDGE)).round(1)


def _ticks() -> pl.Expr:
    x = _place(pl.col("value")).cast(pl.String)
    # Beyond the scale: an arrow at the edge instead of a tick.
    beyond_left = pl.concat_str(pl.lit("M"), x, pl.lit(" 6l-3 4l3 4"))
    beyond_right = pl.concat_str(pl.lit("M"), x, pl.lit(" 6l3 4l-3 4"))
    high = pl.concat_str(pl.lit("M"), x, pl.lit(" 2v16"))
    low = pl.concat_str(pl.lit("M"), x, pl.lit(" 6v8"))
    return (
        pl.when(pl.col("value") < pl.col("low"))
        .then(beyond_left)
        .when(pl.col("value") > pl.col("high"))
        .then(beyond_right)
        .when(pl.col("verdict") == "fail")
        .then(high)
        .otherwise(low)
    )


def _reach() -> list[pl.Expr]:
    """Return the ends of what all limits of a cell allow and of what some allow; null where it has no limit."""
    bounded = pl.col("lower").is_not_null() | pl.col("upper").is_not_null()
    left = _place(pl.coalesce("lower", "low")).filter(bounded)
    right = _place(pl.coalesce("upper", "high")).filter(bounded)
    return [
        left.max().alias("all_left"),
        right.min().alias("all_right"),
        left.min().alias("some_left"),
        right.max().alias("some_right"),
    ]


def _band(kind: str, left: str, right: str) -> pl.Expr:
    width = (pl.col(right) - pl.col(left)).round(1)
    box = fill(f'<rect class="{kind}" x="{{{left}}}" y="3" width="{{width}}" height="14"/>', width=width)
    # The faint band says something only where it reaches beyond the full one.
    wanted = (width > 0) if kind == "band" else (width > (pl.col("all_right") - pl.col("all_left")))
    return pl.when(wanted).then(box).otherwise(pl.lit(""))


def strips(values: pl.DataFrame, scale: pl.DataFrame, scale_by: list[str], by: list[str]) -> pl.DataFrame:
    """Return one strip per cell: columns `by` and strip_html.

    Parameters
    ----------
    values
        One row per value: columns `by`, `scale_by`, value, lower, upper, verdict.
    scale
        What `scales` gave.
    scale_by, by
        Columns that name the scale and the cell.

    Notes
    -----
    Failing values are taller ticks in the colour of failure. Where limits differ within the cell the full band is what
    all of them allow, the faint band what some of them allow.
    """
    placed = values.filter(pl.col("value").is_not_null()).join(scale, on=scale_by, how="left", nulls_equal=True)
    failed = pl.col("verdict").fill_null("") == "fail"
    cells = (
        placed.with_columns(_ticks().alias("tick"))
        .group_by(by, maintain_order=True)
        .agg(
            pl.col("tick").filter(~failed).str.join("").alias("good"),
            pl.col("tick").filter(failed).str.join("").alias("bad"),
            *_reach(),
            _place(pl.col("value").mean()).first().alias("mean"),
        )
    )
    drawn = fill(
        f'<svg class="strip" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}" aria-hidden="true">'
        f'<path class="axis" d="M{_EDGE} 10h{WIDTH - 2 * _EDGE}"/>'
        '{some_html}{all_html}<path class="tick" d="{good}"/><path class="tick bad" d="{bad}"/>'
        '<path class="mean" d="M{mean} 16l3 4h-6z"/></svg>',
        some_html=_band("band some", "some_left", "some_right"),
        all_html=_band("band", "all_left", "all_right"),
    )
    return cells.select(*by, drawn.alias("strip_html"))
