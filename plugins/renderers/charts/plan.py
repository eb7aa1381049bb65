"""Plans: places along the pavement by station and offset, one drawing per owner, marked by the side of the limits."""

import polars as pl

from plugins.renderers.verbs.figures import plain
from plugins.renderers.verbs.markup import fill, gathered
from plugins.renderers.verbs.words import filled

WIDTH, HEIGHT = 400, 170
#: Edges of the pavement as drawn; places lie inside by `_MARGIN`, so that their numbers fit.
LEFT, RIGHT, TOP, BOTTOM = 62, 388, 6, 134
_MARGIN = 20

#: (kind, side) -> outline drawn from the place: the shape alone tells both, the shade says it again.
SHAPES = {
    ("core", "within"): "m-4.5 0a4.5 4.5 0 1 0 9 0a4.5 4.5 0 1 0-9 0z",
    ("core", "above"): "m-5.5 4h11l-5.5-9z",
    ("core", "below"): "m-5.5-4h11l-5.5 9z",
    ("core", "none"): "m-4-4l8 8m0-8l-8 8",
    ("gauge", "within"): "m0-5.5l5.5 5.5l-5.5 5.5l-5.5-5.5z",
    ("gauge", "above"): "m-5.5 5v-4l5.5-6l5.5 6v4z",
    ("gauge", "below"): "m-5.5-5v4l5.5 6l5.5-6v-4z",
    ("gauge", "none"): "m0-5v10m-5-5h10",
}


def outline() -> pl.Expr:
    """Return the outline of a mark, of columns kind (core, gauge) and side (within, above, below, none)."""
    keys = pl.concat_str("kind", "side", separator=" ")
    return keys.replace_strict({" ".join(key): path for key, path in SHAPES.items()}, return_dtype=pl.String)


def _along(value: str, start: float, end: float, by: list[str]) -> pl.Expr:
    """Return the place between start and end in the owner's own reach; the middle where all are the same."""
    least, most = pl.col(value).min().over(by), pl.col(value).max().over(by)
    share = pl.when(most > least).then((pl.col(value) - least) / (most - least)).otherwise(0.5)
    return (start + share * (end - start)).round(1)


def _marks(places: pl.DataFrame, by: list[str]) -> pl.DataFrame:
    placed = places.with_columns(
        _along("station", LEFT + _MARGIN, RIGHT - _MARGIN, by).alias("x"),
        _along("offset", TOP + _MARGIN, BOTTOM - _MARGIN, by).alias("y"),
    )
    # Every other number stands below its mark: neighbours then seldom cover each other.
    return placed.with_columns(
        fill('<path class="place {kind} {side}" d="M{x} {y}{d}"/>', d=outline()).alias("mark_html"),
        fill(
            '<text class="no" x="{x}" y="{foot}">{number}</text>',
            foot=(pl.col("y") + pl.when(pl.col("number") % 2 == 0).then(17).otherwise(-8)).round(1),
        ).alias("number_html"),
    )


def _reach(name: str) -> list[pl.Expr]:
    shown = pl.col(name).round(2)
    return [plain(shown.min()).alias(f"{name}_first"), plain(shown.max()).alias(f"{name}_last")]


def plans(places: pl.DataFrame, by: list[str], said: pl.Expr) -> pl.DataFrame:
    """Return one plan per owner: columns `by` and plan_html.

    Parameters
    ----------
    places
        One row per place, all with station and offset (negative is left, drawn above as one looks along the
        stations): columns `by`, station, offset, place_unit, kind (core, gauge), side (within, below, above, none),
        number.
    by
        Columns that name the owner.
    said
        Text alternative of a plan, aggregated over its places.
    """
    drawn = _marks(places, by)
    gathered_marks = gathered(drawn, by, "mark_html").join(
        gathered(drawn, by, "number_html"), on=by, how="left", nulls_equal=True, maintain_order="left"
    )
    told = drawn.group_by(by, maintain_order=True).agg(
        *_reach("station"), *_reach("offset"), pl.col("place_unit").first().fill_null(""),
        pl.len().alias("places"), said.alias("said"),
    )  # fmt: skip
    joined = told.join(gathered_marks, on=by, how="left", nulls_equal=True, maintain_order="left")
    middle, low, half = (LEFT + RIGHT) / 2, BOTTOM + 16, (TOP + BOTTOM) / 2
    alone = pl.col("offset_first") == pl.col("offset_last")
    svg = fill(
        f'<svg class="plot" viewBox="0 0 {WIDTH} {HEIGHT}" role="img"><title>{{title}}</title><desc>{{said}}</desc>'
        f'<path class="axis" d="M{LEFT} {TOP}H{RIGHT}V{BOTTOM}H{LEFT}z"/>'
        f'<text x="{{station_x}}" y="{low}" text-anchor="middle">{{station_first}}</text>{{last_html}}'
        f'<text x="{middle}" y="{low + 16}" text-anchor="middle">{{along}}</text>'
        f'<text transform="translate(11 {half}) rotate(-90)" text-anchor="middle">{{across}}</text>'
        f'<text x="{LEFT - 6}" y="{{offset_y}}" text-anchor="end">{{offset_first}}</text>{{foot_html}}'
        "{mark_html}{number_html}</svg>",
        title=filled("density.title", places=pl.col("places")),
        along=filled("density.along", unit=pl.col("place_unit")),
        across=filled("density.across", unit=pl.col("place_unit")),
        station_x=pl.when(pl.col("station_first") == pl.col("station_last")).then(middle).otherwise(LEFT + _MARGIN),
        offset_y=pl.when(alone).then(half).otherwise(TOP + _MARGIN) + 4,
        last_html=_where_two(
            "station", f'<text x="{RIGHT - _MARGIN}" y="{low}" text-anchor="middle">{{station_last}}</text>'
        ),
        foot_html=_where_two(
            "offset", f'<text x="{LEFT - 6}" y="{BOTTOM - _MARGIN + 4}" text-anchor="end">{{offset_last}}</text>'
        ),
    )
    return joined.select(*by, svg.alias("plan_html"))


def _where_two(name: str, pattern: str) -> pl.Expr:
    return pl.when(pl.col(f"{name}_first") != pl.col(f"{name}_last")).then(fill(pattern)).otherwise(pl.lit(""))
