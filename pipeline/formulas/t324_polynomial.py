"""AASHTO T 324: stripping number, slopes, inflection point and corrected rut depth by a sixth-degree polynomial."""

import polars as pl

from pipeline.formulas.model import COMMON_PRACTICE, Check, Curve, Formula, Grain, Property
from pipeline.formulas.t324 import PROCEDURES, STANDARD
from pipeline.formulas.t324_stripping import (
    CORRECTED_AT,
    LEAST_RATIO,
    TABLE,
    found,
    inflection_point,
    of_sample,
    quantity,
    slope_ratio,
)
from pipeline.settings import Results
from schemas.vocabulary import Method

_CHOICES = ("wheel_positions", "wheel_reduction", "polynomial_procedure")
_SOURCE = "open data of a federal accelerated-pavement test site, convention recovered from its results"
_FIGURES = (
    quantity("polynomial_stripping_number", "SN", "first inflection of the polynomial"),
    quantity("polynomial_depth_measured", "R(SN)", "depth recorded at the stripping number, not zeroed", "mm"),
    quantity("polynomial_creep_slope", "m_c", "slope of the polynomial at the stripping number", "mm/pass"),
    quantity("polynomial_creep_intercept", "b_c", "depth of the creep tangent at pass 0", "mm"),
    quantity("polynomial_stripping_slope", "m_s", "greatest slope after the stripping number", "mm/pass"),
    quantity("polynomial_stripping_intercept", "b_s", "depth of the steepest tangent at pass 0", "mm"),
    quantity("polynomial_steepest_pass", "N steepest", "pass at which the polynomial is steepest"),
    quantity("polynomial_least_slope_after", "least p'", "least slope after the stripping number", "mm/pass"),
    quantity("polynomial_first_pass", "N1", "first pass fitted by the polynomial"),
    quantity("polynomial_last_pass", "N2", "last pass fitted by the polynomial"),
    quantity("polynomial_readings", "n", "readings fitted by the polynomial"),
    quantity("polynomial_rms", "rms", "root mean square of the residuals of the polynomial", "mm"),
)
_STATES = (
    "polynomial_first_pass",
    "polynomial_last_pass",
    "polynomial_readings",
    "polynomial_rms",
    "polynomial_steepest_pass",
)


def _fit(series: pl.DataFrame, runs: pl.DataFrame, choices: Results) -> pl.DataFrame:
    from pipeline.tracking import figures, polynomial

    return figures.fitted(
        series,
        polynomial.fit,
        polynomial.NAMES,
        {each.name: (each.name.removeprefix("polynomial_"), "why") for each in _FIGURES},
    )


POLYNOMIAL = Curve(
    name="polynomial",
    table=TABLE,
    gives=_FIGURES,
    standard=STANDARD,
    section="sixth-degree polynomial",
    procedure=PROCEDURES["polynomial_procedure"],
    series="wheel_depth",
    function=_fit,
    parameters=_CHOICES,
)
DOUBTFUL = Check(
    code="polynomial_doubtful",
    sentence="the first inflection of the polynomial need not be stripping",
    inputs=("polynomial_creep_slope", "polynomial_stripping_slope", "polynomial_least_slope_after"),
    holds=lambda creep, stripping, least, ratio: (creep > 0) & (stripping >= ratio * creep) & (least >= 0),
    bounds=LEAST_RATIO,
    limit="slope ratio at least {}, and no falling slope after the stripping number",
    source=f"Missouri DOT research abstract, May 2025 (slope ratio); {_SOURCE}",
    mark=COMMON_PRACTICE,
)


def _found(prop: Property, name: str, section: str) -> Formula:
    made = found(prop, name, "polynomial", section, _CHOICES, _STATES)
    return Formula(**(vars(made) | {"checks": (*made.checks, DOUBTFUL)}))


NUMBER = _found(
    Property("stripping_number_polynomial", "SN", "stripping number, sixth-degree polynomial", None, 0),
    "polynomial_stripping_number",
    "SN = first root of p''(N) = 0 inside the record",
)
CREEP = _found(
    Property("creep_slope_polynomial", "m_c", "creep slope, sixth-degree polynomial", "mm/pass", 7),
    "polynomial_creep_slope",
    "m_c = p'(SN)",
)
STRIPPING = _found(
    Property("stripping_slope_polynomial", "m_s", "stripping slope, sixth-degree polynomial", "mm/pass", 7),
    "polynomial_stripping_slope",
    "m_s = greatest p'(N) after SN",
)
RATIO = slope_ratio("polynomial", _CHOICES, _STATES)
SIP = inflection_point("polynomial", _CHOICES, _STATES)

CORRECTED = Property(
    "corrected_rut_depth_polynomial",
    "CRD",
    "corrected rut depth, sixth-degree polynomial",
    "mm",
    2,
    at="passes",
    places=CORRECTED_AT,
)
_ASKED = pl.col("pass_asked").is_in(CORRECTED_AT)
_AFTER = (pl.col("pass_asked") > pl.col("stripping_number_polynomial")).fill_null(True)
TANGENT = Formula(
    property=CORRECTED,
    grain=Grain.SPECIMEN_PASS,
    route="creep_tangent",
    standard=STANDARD,
    section="corrected rut depth by the polynomial",
    equation="CRD(N) = R(SN) + m_c (N - SN), with R(SN) as recorded",
    inputs=("stripping_depth_measured", "creep_slope", "stripping_number", "pass_asked"),
    expression=lambda depth, slope, number, asked: depth + slope * (asked - number),
    takes=(
        ("stripping_depth_measured", "polynomial_depth_measured"),
        ("creep_slope", "creep_slope_polynomial"),
        ("stripping_number", "stripping_number_polynomial"),
    ),
    lead=("stripping_number",),
    applies=_ASKED & _AFTER,
    method=Method.T324,
    parameters=_CHOICES,
    states=_STATES,
)
AS_MEASURED = Formula(
    property=CORRECTED,
    grain=Grain.SPECIMEN_PASS,
    route="before_stripping",
    standard=STANDARD,
    section="corrected rut depth by the polynomial",
    equation="CRD(N) = R(N), N lying before the stripping number",
    inputs=("rut_depth",),
    expression=lambda depth: depth * 1.0,
    lead=("rut_depth",),
    applies=_ASKED & ~_AFTER,
    method=Method.T324,
    parameters=("wheel_zeroed", *_CHOICES),
)
OF_SAMPLE = tuple(
    of_sample(each, _CHOICES)
    for each in (NUMBER.property, CREEP.property, STRIPPING.property, RATIO.property, SIP.property, CORRECTED)
)
