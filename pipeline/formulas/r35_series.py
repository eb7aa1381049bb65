"""Binder content of a design from a series of contents: where the air voids meet the design, and what holds there."""

from collections.abc import Sequence
from itertools import pairwise

import polars as pl

from pipeline.formulas.model import COMMON_PRACTICE, Formula, Grain, Property, Quantity
from pipeline.formulas.quantities import numbered
from pipeline.formulas.r35 import STANDARD

SERIES = (
    *numbered("pb", "Pb", "binder content of the series, in ascending order", "%"),
    *numbered("va", "Va", "air voids at that content", "%"),
    *numbered("vma", "VMA", "VMA at that content", "%"),
    *numbered("vfa", "VFA", "VFA at that content", "%"),
    *numbered("y", "y", "any figure at that content", None),
)
DESIGN_BINDER = Property("design_binder", "Pb design", "binder content at the design air voids", "%", 2)
VMA_AT_DESIGN = Property("vma_at_design", "VMA design", "VMA at the design binder content", "%", 1)
VFA_AT_DESIGN = Property("vfa_at_design", "VFA design", "VFA at the design binder content", "%", 1)
FIGURE_AT_DESIGN = Property(
    "figure_at_design", "y design", "any figure of the series at the design binder content", None, 3
)
OPTIMUM = Property("optimum_binder", "Pb opt", "optimum binder content by four criteria of the Marshall series", "%", 1)
DEMAND = Property("binder_demand", "P", "empirical binder demand by surface", "%", 2)

_SECTION = "design binder content"
_LINEAR = "linear between the two neighbours whose Va enclose the design's; the first such pair counts"


def interpolated(places: Sequence[pl.Expr], figures: Sequence[pl.Expr], at: pl.Expr) -> pl.Expr:
    """Return the figure at a place by a straight line between the first two neighbours that enclose it.

    Parameters
    ----------
    places, figures
        x and y of the series, in its order.
    at
        The place; outside the series there is no figure (null).
    """
    parts = []
    for (x1, x2), (y1, y2) in zip(pairwise(places), pairwise(figures), strict=True):
        within = ((x1 - at) * (x2 - at) <= 0) & (x1 != x2)
        parts.append(pl.when(within).then(y1 + (y2 - y1) * (at - x1) / (x2 - x1)))
    return pl.coalesce(parts)


def ascending(contents: Sequence[pl.Expr]) -> pl.Expr:
    """Return whether the contents rise from one to the next."""
    return pl.all_horizontal(low < high for low, high in pairwise(contents))


def _design(*given: pl.Expr) -> pl.Expr:
    contents, voids, target = given[:-1:2], given[1:-1:2], given[-1]
    return pl.when(ascending(contents)).then(interpolated(voids, contents, target))


def _at_design(*given: pl.Expr) -> pl.Expr:
    contents, voids, figures, target = given[:-1:3], given[1:-1:3], given[2:-1:3], given[-1]
    content = interpolated(voids, contents, target)
    return pl.when(ascending(contents)).then(interpolated(contents, figures, content))


def _figure(prop: Property, stem: str) -> Formula:
    return Formula(
        property=prop,
        grain=Grain.SAMPLE,
        route="by_interpolation",
        standard=STANDARD,
        section=_SECTION,
        equation=f"{prop.symbol} = {stem} at the Pb where Va = Va design (4 %), {_LINEAR}; Pb ascending",
        inputs=("pb1", "va1", f"{stem}1", "pb2", "va2", f"{stem}2", "air_voids_design"),
        expression=_at_design,
        defaults=(("air_voids_design", 4.0),),
        by_hand_only=True,
        variadic=("pb", "va", stem),
    )


CONTENT = Formula(
    property=DESIGN_BINDER,
    grain=Grain.SAMPLE,
    route="by_interpolation",
    standard=STANDARD,
    section=_SECTION,
    equation=f"Pb where Va = Va design (4 %), {_LINEAR}; Pb ascending",
    inputs=("pb1", "va1", "pb2", "va2", "air_voids_design"),
    expression=_design,
    defaults=(("air_voids_design", 4.0),),
    by_hand_only=True,
    variadic=("pb", "va"),
)
AT_DESIGN = (_figure(VMA_AT_DESIGN, "vma"), _figure(VFA_AT_DESIGN, "vfa"), _figure(FIGURE_AT_DESIGN, "y"))

CRITERIA = tuple(
    Quantity(name, symbol, title, "%", Grain.SAMPLE)
    for name, symbol, title in (
        ("pb_stability", "Pb stab.", "binder content at the peak of the stability"),
        ("pb_unit_weight", "Pb γ", "binder content at the peak of the unit weight"),
        ("pb_voids", "Pb Va", "binder content at the design air voids"),
        ("pb_filled", "Pb VFA", "binder content at the design VFA"),
    )
)
OF_FOUR = Formula(
    property=OPTIMUM,
    grain=Grain.SAMPLE,
    route="of_four_criteria",
    standard="UFC 3-250-03",
    section="optimum binder content, table 2-8",
    equation="mean of the contents at peak stability, peak unit weight, design air voids and design VFA",
    inputs=("pb_stability", "pb_unit_weight", "pb_voids", "pb_filled"),
    expression=lambda stability, weight, voids, filled: (stability + weight + voids + filled) * 0.25,
    by_hand_only=True,
)
SURFACE = tuple(
    Quantity(name, symbol, title, "%" if name != "demand_factor" else None, Grain.SAMPLE)
    for name, symbol, title in (
        ("coarse_share", "a", "retained on No. 10"),
        ("sand_share", "b", "passing No. 10, retained on No. 200"),
        ("filler_share", "c", "passing No. 200"),
        ("demand_factor", "K", "factor of the filler, 0.18 in the example"),
        ("demand_constant", "n", "constant of the aggregate, 0.60 in the example"),
    )
)
BY_SURFACE = Formula(
    property=DEMAND,
    grain=Grain.SAMPLE,
    route="by_surface",
    standard="empirical",
    section=f"estimate ({COMMON_PRACTICE})",
    equation="P = 0.032 a + 0.045 b + K c + n",
    inputs=("coarse_share", "sand_share", "filler_share", "demand_factor", "demand_constant"),
    expression=lambda coarse, sand, filler, factor, constant: (
        0.032 * coarse + 0.045 * sand + factor * filler + constant
    ),
    by_hand_only=True,
)
