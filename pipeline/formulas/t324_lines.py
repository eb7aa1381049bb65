"""AASHTO T 324: creep and stripping slope and the inflection point by two fitted lines."""

import polars as pl

from pipeline.formulas.model import Curve, Property
from pipeline.formulas.t324 import PROCEDURES, STANDARD
from pipeline.formulas.t324_stripping import TABLE, found, inflection_point, of_sample, quantity, slope_ratio
from pipeline.settings import Results

_CHOICES = ("wheel_positions", "wheel_reduction", "lines_procedure", "wheel_lines_from_pass")
_FIGURES = (
    quantity("lines_creep_slope", "m_c", "slope of the creep line", "mm/pass"),
    quantity("lines_creep_intercept", "b_c", "depth of the creep line at pass 0", "mm"),
    quantity("lines_stripping_slope", "m_s", "slope of the stripping line", "mm/pass"),
    quantity("lines_stripping_intercept", "b_s", "depth of the stripping line at pass 0", "mm"),
    quantity("lines_first_pass", "N1", "first pass fitted by two lines"),
    quantity("lines_last_pass", "N2", "last pass fitted by two lines"),
    quantity("lines_readings", "n", "readings fitted by two lines"),
    quantity("lines_step", "ΔN", "step of the grid on which the two lines may meet"),
    quantity("lines_rms", "rms", "root mean square of the residuals of two lines", "mm"),
)
_STATES = ("lines_first_pass", "lines_last_pass", "lines_readings", "lines_step", "lines_rms")


def _fit(series: pl.DataFrame, runs: pl.DataFrame, choices: Results) -> pl.DataFrame:
    from pipeline.tracking import figures, two_lines

    return figures.fitted(
        series,
        lambda passes, depths: two_lines.fit(passes, depths, choices.wheel_lines_from_pass),
        two_lines.NAMES,
        {each.name: (each.name.removeprefix("lines_"), "why") for each in _FIGURES},
    )


TWO_LINES = Curve(
    name="two_lines",
    table=TABLE,
    gives=_FIGURES,
    standard=STANDARD,
    section="creep and stripping line",
    procedure=PROCEDURES["lines_procedure"],
    series="wheel_depth",
    function=_fit,
    parameters=_CHOICES,
)

CREEP = found(
    Property("creep_slope_lines", "m_c", "creep slope, two fitted lines", "mm/pass", 7),
    "lines_creep_slope",
    "lines",
    "creep line",
    _CHOICES,
    _STATES,
)
STRIPPING = found(
    Property("stripping_slope_lines", "m_s", "stripping slope, two fitted lines", "mm/pass", 7),
    "lines_stripping_slope",
    "lines",
    "stripping line",
    _CHOICES,
    _STATES,
)
RATIO = slope_ratio("lines", _CHOICES, _STATES)
SIP = inflection_point("lines", _CHOICES, _STATES)
OF_SAMPLE = tuple(of_sample(each.property, _CHOICES) for each in (CREEP, STRIPPING, RATIO, SIP))
