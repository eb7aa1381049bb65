"""AASHTO T 324: stripping number, corrected rut depth and stripping life by the logarithmic and viscoplastic model."""

import polars as pl

from pipeline.formulas.model import Curve, Formula, Grain, Property, Quantity
from pipeline.formulas.t324 import PROCEDURES, RECORD
from pipeline.formulas.t324_stripping import CORRECTED_AT, TABLE, of_sample, quantity
from pipeline.settings import Results
from schemas.vocabulary import Method

_STANDARD = "Yin et al., TRR 2446 (2014)"
_SECTION = "equations from memory, confirmed on open data"
_CHOICES = ("wheel_positions", "wheel_reduction", "log_model_procedure")
_NUMBER = {
    "passes_ultimate": quantity("passes_ultimate", "N_ult", "passes at which the log model grows without bound"),
    "beta": quantity("beta", "β", "exponent of the log model"),
    "rho": quantity("log_model_rho", "ρ", "scale of the log model", "mm"),
    "first_pass": quantity("log_model_first_pass", "N1", "first pass fitted by the log model"),
    "last_pass": quantity("log_model_last_pass", "N2", "last pass fitted by the log model"),
    "readings": quantity("log_model_readings", "n", "readings fitted by the log model"),
    "rms": quantity("log_model_rms", "rms", "root mean square of the residuals of the log model", "mm"),
}
_VISCOPLASTIC = {
    "depth_ultimate": quantity("viscoplastic_depth", "R_∞", "final depth of the viscoplastic curve", "mm"),
    "alpha": quantity("viscoplastic_alpha", "α", "scale of the viscoplastic curve"),
    "exponent": quantity("viscoplastic_lambda", "λ", "exponent of the viscoplastic curve"),
}
_STRIPPING = {
    "stripping_depth": quantity("stripping_depth", "R_0", "depth scale of the stripping curve, H ε0", "mm"),
    "stripping_rate": quantity("stripping_rate", "θ", "rate of the stripping curve per pass"),
}
_REASONS = ((_NUMBER, "why"), (_VISCOPLASTIC, "why_viscoplastic"), (_STRIPPING, "why_stripping"))
_STATES = tuple(each.name for each in _NUMBER.values())


def _fit(series: pl.DataFrame, runs: pl.DataFrame, choices: Results) -> pl.DataFrame:
    from pipeline.tracking import figures, log_model

    return figures.fitted(
        series,
        log_model.fit,
        log_model.NAMES,
        {each.name: (name, why) for part, why in _REASONS for name, each in part.items()},
    )


LOG_MODEL = Curve(
    name="log_model",
    table=TABLE,
    gives=tuple(each for part, _ in _REASONS for each in part.values()),
    standard=_STANDARD,
    section=_SECTION,
    procedure=PROCEDURES["log_model_procedure"],
    series="wheel_depth",
    function=_fit,
    parameters=_CHOICES,
)
NUMBER = Formula(
    property=Property("stripping_number_log_model", "LCSN", "stripping number, log model", None, 0),
    grain=Grain.SPECIMEN,
    route="log_model",
    standard=_STANDARD,
    section=_SECTION,
    equation="LCSN = N_ult exp(-(β + 1)/β), from R = ρ [ln(N_ult/N)]^(-1/β)",
    inputs=("passes_ultimate", "beta"),
    expression=lambda ultimate, beta: ultimate * (-(beta + 1) / beta).exp(),
    checks=RECORD,
    lead=("passes_recorded",),
    method=Method.T324,
    parameters=_CHOICES,
    states=_STATES,
)
CORRECTED = Formula(
    property=Property(
        "corrected_rut_depth_log_model",
        "CRD",
        "corrected rut depth, viscoplastic curve of the log model",
        "mm",
        2,
        at="passes",
        places=CORRECTED_AT,
    ),
    grain=Grain.SPECIMEN_PASS,
    route="viscoplastic_curve",
    standard=_STANDARD,
    section=_SECTION,
    equation="CRD(N) = R_∞ exp[-(α/N)^λ], fitted up to LCSN",
    inputs=("viscoplastic_depth", "viscoplastic_alpha", "viscoplastic_lambda", "pass_asked"),
    expression=lambda depth, alpha, exponent, asked: depth * (-((alpha / asked).pow(exponent))).exp(),
    checks=RECORD,
    lead=("passes_recorded",),
    applies=pl.col("pass_asked").is_in(CORRECTED_AT),
    method=Method.T324,
    parameters=_CHOICES,
    states=(*_STATES, "viscoplastic_depth", "viscoplastic_alpha", "viscoplastic_lambda"),
)
LIFE = Formula(
    property=Property("stripping_life", "LCST", "passes after LCSN for stripping alone to reach the depth", None, 0),
    grain=Grain.SPECIMEN,
    route="log_model",
    standard=_STANDARD,
    section=_SECTION,
    equation="LCST = ln(1 + R limit / R_0) / θ, with R_0 = H ε0",
    inputs=("stripping_depth", "stripping_rate", "depth_limit"),
    expression=lambda depth, rate, limit: (limit / depth).log1p() / rate,
    checks=RECORD,
    lead=("passes_recorded",),
    method=Method.T324,
    parameters=(*_CHOICES, "wheel_depth_limit_mm"),
    states=(*_STATES, "stripping_depth", "stripping_rate"),
)
HEIGHT = Quantity("specimen_height", "H", "height of the specimens", "mm", *TABLE)
INCREMENT = Formula(
    property=Property("viscoplastic_strain_increment", "Δε", "viscoplastic strain per pass", None, 9),
    grain=Grain.SPECIMEN_PASS,
    route="log_model",
    standard=_STANDARD,
    section=_SECTION,
    equation="Δε(N) = ε_∞ λ α^λ exp[-(α/N)^λ] N^-(λ + 1), with ε_∞ = R_∞ / H",
    inputs=("viscoplastic_depth", "viscoplastic_alpha", "viscoplastic_lambda", "specimen_height", "pass_asked"),
    expression=lambda depth, alpha, exponent, height, asked: (
        depth / height * exponent * (alpha / asked).pow(exponent) / asked * (-((alpha / asked).pow(exponent))).exp()
    ),
    method=Method.T324,
    by_hand_only=True,
)
OF_SAMPLE = tuple(of_sample(each.property, _CHOICES) for each in (NUMBER, CORRECTED, LIFE))
