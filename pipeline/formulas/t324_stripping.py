"""AASHTO T 324: what the figures of stripping share, whatever the fit they come from."""

import polars as pl

from pipeline.formulas.model import Bound, Check, Formula, Grain, Mean, Property, Quantity
from pipeline.formulas.t324 import RECORD, SINGLE_WHEEL, STANDARD, WHEELS_DIFFER
from schemas.vocabulary import Method

TABLE = (Grain.SPECIMEN, Method.T324)
CORRECTED_AT = (10000.0, 20000.0)

#: Ratio of stripping to creep slope from which a mix counts as stripping.
LEAST_RATIO = (Bound("stripping_slope_ratio", 2),)
NO_STRIPPING = Check(
    code="no_stripping",
    sentence="the mix counts as non-stripping: no inflection point",
    inputs=("creep_slope", "stripping_slope"),
    holds=lambda creep, stripping, ratio: (creep > 0) & (stripping >= ratio * creep),
    bounds=LEAST_RATIO,
    limit="slope ratio at least {}, both slopes rising",
    source="Missouri DOT research abstract, May 2025, and its test method TM-100",
    effect="withhold",
)


def quantity(name: str, symbol: str, title: str, unit: str | None = None) -> Quantity:
    """Return a figure a fit gives for one wheel."""
    return Quantity(name, symbol, title, unit, *TABLE)


def found(
    prop: Property, name: str, route: str, section: str, choices: tuple[str, ...], states: tuple[str, ...]
) -> Formula:
    """Return the formula that reports what a fit gives, with the checks on the record and the range of the fit."""
    return Formula(
        property=prop,
        grain=Grain.SPECIMEN,
        route=route,
        standard=STANDARD,
        section=section,
        equation=f"{prop.symbol}, as fitted",
        inputs=(name,),
        expression=lambda value: value * 1.0,
        checks=RECORD,
        method=Method.T324,
        lead=("passes_recorded",),
        parameters=choices,
        states=states,
    )


def slope_ratio(way: str, choices: tuple[str, ...], states: tuple[str, ...]) -> Formula:
    """Return the slope ratio of one procedure."""
    return Formula(
        property=Property(f"slope_ratio_{way}", "SR", f"slope ratio, {_WAYS[way]}", None, 2),
        grain=Grain.SPECIMEN,
        route=way,
        standard="Missouri TM-100",
        section="slope ratio",
        equation="SR = m_s / m_c",
        inputs=("creep_slope", "stripping_slope"),
        expression=lambda creep, stripping: stripping / creep,
        takes=_taken(way, "creep_slope", "stripping_slope"),
        method=Method.T324,
        parameters=choices,
        states=states,
    )


def inflection_point(way: str, choices: tuple[str, ...], states: tuple[str, ...]) -> Formula:
    """Return the stripping inflection point of one procedure."""
    return Formula(
        property=Property(f"sip_{way}", "SIP", f"stripping inflection point, {_WAYS[way]}", None, 0),
        grain=Grain.SPECIMEN,
        route=way,
        standard=STANDARD,
        section="stripping inflection point",
        equation="SIP = (b_s - b_c) / (m_c - m_s)",
        inputs=_LINES,
        expression=intersection,
        takes=_taken(way, *_LINES),
        checks=(NO_STRIPPING,),
        method=Method.T324,
        lead=("creep_slope",),
        parameters=choices,
        states=states,
    )


def of_sample(prop: Property, choices: tuple[str, ...]) -> Mean:
    """Return the mean of both wheels; one wheel without the figure leaves none, for it would flatter the mix."""
    by_pass = prop.at == "passes"
    return Mean(
        property=prop,
        grain=Grain.SAMPLE_PASS if by_pass else Grain.SAMPLE,
        of=prop,
        of_grain=Grain.SPECIMEN_PASS if by_pass else Grain.SPECIMEN,
        method=Method.T324,
        route="mean_of_wheels",
        standard=STANDARD,
        over=("sample_id", "wheel_pass") if by_pass else ("sample_id",),
        every=True,
        checks=(WHEELS_DIFFER, SINGLE_WHEEL) if by_pass else (SINGLE_WHEEL,),
        parameters=choices,
    )


def intersection(creep: pl.Expr, creep_level: pl.Expr, stripping: pl.Expr, stripping_level: pl.Expr) -> pl.Expr:
    """Return the pass at which creep and stripping line meet."""
    return (stripping_level - creep_level) / (creep - stripping)


_WAYS = {"lines": "two fitted lines", "polynomial": "tangents of the polynomial"}
_LINES = ("creep_slope", "creep_intercept", "stripping_slope", "stripping_intercept")


def _taken(way: str, *names: str) -> tuple[tuple[str, str], ...]:
    """Lead every name of the equation to the figure of this procedure; slopes are reported, intercepts are not."""
    return tuple((name, f"{name}_{way}" if name.endswith("slope") else f"{way}_{name}") for name in names)


#: Two lines by hand, as an agency or a paper prints them, whatever their slope ratio.
LINE_INTERSECTION = Formula(
    property=Property("line_intersection", "N", "pass at which creep and stripping line meet", None, 0),
    grain=Grain.SPECIMEN,
    route="by_hand",
    standard=STANDARD,
    section="stripping inflection point, without the rule of the slope ratio",
    equation="N = (b_s - b_c) / (m_c - m_s)",
    inputs=_LINES,
    # Lines that part have no inflection: no figure where the stripping line is not the steeper one.
    expression=lambda creep, creep_level, stripping, stripping_level: pl.when(stripping > creep).then(
        intersection(creep, creep_level, stripping, stripping_level)
    ),
    method=Method.T324,
    by_hand_only=True,
)
