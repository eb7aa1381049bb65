"""AASHTO T 27 with T 11: gradation of aggregate, washed or dry."""

import math
from dataclasses import replace

import polars as pl

from pipeline.formulas.minimum_mass import PORTION_OFF, rungs, told
from pipeline.formulas.model import FROM_MEMORY, Check, Formula, Grain, Mean, Precision, Property, Quantity, bounds
from pipeline.formulas.t30 import (
    LOSS,
    LOSS_T27,
    PASSING_OF_SAMPLE,
    PASSING_SIEVE,
    RETAINED_WITHIN,
    WASH_ORDER,
)
from schemas.vocabulary import Method

STANDARD = "AASHTO T 27 (ASTM C136)"
WASHING = "AASHTO T 11 (ASTM C117)"

WASHED_FINES = Property("washed_fines", "P200 washed", "finer than 0.075 mm by washing, by mass", "%", 1)
LEAST_MASS = Quantity(
    "least_mass", "M least", "least mass of the test portion, by the settings", "g", Grain.SPECIMEN, Method.T27
)
#: s and d2s by the share passing (%), single operator and then multilaboratory.
_PRECISION = Precision(
    "s / d2s (%) by the share passing, single operator; multilaboratory. Coarse: 95-100 0.32/0.9; 0.35/1.0, 85-95 "
    "0.81/2.3; 1.37/3.9, 80-85 1.34/3.8; 1.92/5.4, 60-80 2.25/6.4; 2.82/8.0, 20-60 1.32/3.7; 1.97/5.6, 15-20 0.96/2.7; "
    "1.60/4.5, 10-15 1.00/2.8; 1.48/4.2, 5-10 0.75/2.1; 1.22/3.4, 2-5 0.53/1.5; 1.04/3.0, 0-2 0.27/0.8; 0.45/1.3. "
    "Fine: 95-100 0.26/0.7; 0.23/0.6, 60-95 0.55/1.6; 0.77/2.2, 20-60 0.83/2.4; 1.41/4.0, 15-20 0.54/1.5; 1.10/3.1, "
    "10-15 0.36/1.0; 0.73/2.1, 2-10 0.37/1.1; 0.65/1.8, 0-2 0.14/0.4; 0.31/0.9",
    FROM_MEMORY,
)
_CHOICES = ("minimum_portion", "nominal_size", "sieve_frame_mm")


def capacity(opening: pl.Expr, frame: pl.Expr, fine: float, coarse: float) -> pl.Expr:
    """Return the mass in g a sieve may hold, from its opening and the diameter of its frame in mm.

    Parameters
    ----------
    fine, coarse
        Load in kg/m² on openings below 4.75 mm, and per mm of opening on larger ones.
    """
    # The frame hides 12.7 mm of the cloth: 203 mm leave 190.5 mm, and 200 g on the fine sieves.
    area = math.pi / 4 * ((frame - 12.7) * 0.001) ** 2
    return area * 1000 * pl.when(opening < 4.75 - 1e-9).then(fine).otherwise(coarse * opening)


OVERLOADED = Check(
    code="sieve_overloaded",
    sentence="more lies on the sieve than it can sort at once",
    inputs=("mass_retained", "sieve_opening", "sieve_frame"),
    holds=lambda mass, opening, frame, fine, coarse: mass <= capacity(opening, frame, fine, coarse) + 1e-9,
    bounds=(*bounds("kg_m2", t27_load_fine=7), *bounds("kg_m2_per_mm", t27_load_coarse=2.5)),
    limit="at most {} kg/m² on openings below 4.75 mm, {} · opening in mm kg/m² on larger ones",
    source="AASHTO T 27",
    mark=FROM_MEMORY,
)


def _enough(mass: str, *others: str) -> Check:
    return PORTION_OFF(
        inputs=(mass, *others, "least_mass"),
        # Which of the ladders counts is a choice of the settings, so the mass comes with the sample.
        holds=lambda *found: found[0] >= found[1 + len(others)] - 1e-9,
        bounds=(*rungs("wsdot"), *rungs("t27", FROM_MEMORY)),
        limit=f"at least, by nominal size, {told('wsdot')}; or, by the settings, {told('t27')}",
        source="WSDOT FOP for AASHTO T 27/T 11; the ladder of T 27 from memory",
    )


def _on_dry(check: Check, limit: str) -> Check:
    """Return a check of the portion for one that was not washed."""
    inputs = tuple("mass_dry" if name in ("mass_before_wash", "mass_after_wash") else name for name in check.inputs)
    return replace(check, inputs=inputs, limit=limit)


WASHED = replace(
    PASSING_SIEVE,
    route="washed_t27",
    standard=f"{STANDARD}, {WASHING}",
    checks=(WASH_ORDER, RETAINED_WITHIN, LOSS_T27, _enough("mass_before_wash"), OVERLOADED),
    precision=_PRECISION,
    method=Method.T27,
    parameters=_CHOICES,
)
DRY = replace(
    WASHED,
    route="dry_t27",
    standard=STANDARD,
    section="calculation, on the dry mass",
    equation="P = 100 (M - ΣR) / M, with M dry mass, ΣR retained on this and all larger sieves",
    inputs=("mass_dry", "mass_retained_cumulative"),
    checks=(
        _on_dry(RETAINED_WITHIN, "sum of the masses retained <= dry mass"),
        _on_dry(LOSS_T27, "difference at most {} % of the dry mass"),
        _enough("mass_dry"),
        OVERLOADED,
    ),
)
LOSS_WASHED = replace(
    LOSS,
    route="check_sum_t27",
    standard=f"{STANDARD}, {WASHING}",
    checks=(WASH_ORDER, LOSS_T27),
    method=Method.T27,
    parameters=(),
)
LOSS_DRY = replace(
    LOSS_WASHED,
    route="check_sum_dry_t27",
    standard=STANDARD,
    equation="loss = 100 (M - ΣR) / M, pan included, with M dry mass",
    inputs=("mass_dry", "mass_retained_total"),
    checks=(_on_dry(LOSS_T27, "difference at most {} % of the dry mass"),),
)
FINES = Formula(
    property=WASHED_FINES,
    grain=Grain.SPECIMEN,
    route="by_washing",
    standard=WASHING,
    section="calculation",
    equation="A = 100 (B - C) / B, with B dry before, C dry after washing",
    inputs=("mass_before_wash", "mass_after_wash"),
    expression=lambda before, after: 100 * (before - after) / before,
    checks=(WASH_ORDER,),
    precision=Precision(
        "s / d2s (%), coarse (below 1.5 %): 0.10 / 0.28, multilaboratory 0.22 / 0.62; fine (1 to 3 %): 0.15 / 0.43, "
        "0.29 / 0.82",
        FROM_MEMORY,
    ),
    lead=("mass_after_wash",),
    method=Method.T27,
)
MEANS = (
    replace(PASSING_OF_SAMPLE, route="mean_t27", method=Method.T27, standard=STANDARD, parameters=_CHOICES),
    Mean(
        property=WASHED_FINES,
        grain=Grain.SAMPLE,
        of=WASHED_FINES,
        of_grain=Grain.SPECIMEN,
        method=Method.T27,
        standard=WASHING,
    ),
)
