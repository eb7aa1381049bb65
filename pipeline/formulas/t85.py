"""AASHTO T 85 and T 84: specific gravities and absorption of coarse and fine aggregate, and of both together."""

from dataclasses import replace

import polars as pl

from pipeline.formulas.conditions import near
from pipeline.formulas.minimum_mass import PORTION_OFF, portion_check
from pipeline.formulas.model import (
    COMMON_PRACTICE,
    FROM_MEMORY,
    Check,
    Expression,
    Formula,
    Grain,
    Mean,
    Precision,
    Property,
    around,
)
from pipeline.formulas.t166 import BATH, MASS_ORDER
from schemas.vocabulary import Method

COARSE, FINE = "AASHTO T 85 (ASTM C127)", "AASHTO T 84 (ASTM C128)"


def _properties(fraction: str) -> tuple[Property, ...]:
    return (
        Property(f"gsb_{fraction}", f"Gsb {fraction}", f"bulk specific gravity of the {fraction} aggregate", None, 3),
        Property(
            f"gsb_ssd_{fraction}",
            f"Gsb,SSD {fraction}",
            f"bulk specific gravity of the {fraction} aggregate, surface-dry",
            None,
            3,
        ),
        Property(
            f"gsa_{fraction}", f"Gsa {fraction}", f"apparent specific gravity of the {fraction} aggregate", None, 3
        ),
        Property(
            f"absorption_{fraction}",
            f"absorption {fraction}",
            f"water absorbed by the {fraction} aggregate, by mass",
            "%",
            1,
        ),
    )


OF_COARSE = _properties("coarse")
OF_FINE = _properties("fine")

WATER = replace(
    BATH,
    bounds=around("c", "t85_bath", 23, 1.7),
    source="AASHTO T 84, T 85",
    mark=FROM_MEMORY,
)
FINE_ORDER = Check(
    code=MASS_ORDER.code,
    sentence=MASS_ORDER.sentence,
    inputs=("mass_dry", "mass_ssd", "mass_container_water", "mass_container_sample_water"),
    holds=lambda dry, ssd, water, sample: (ssd >= dry) & (dry > sample - water) & (sample > water),
    limit="surface-dry >= dry > gain of the pycnometer with the sample > 0",
    source="AASHTO T 84, by the meaning of the masses",
    mark=COMMON_PRACTICE,
    effect="withhold",
    remedy=MASS_ORDER.remedy,
)
COARSE_PORTION = portion_check(("mass_dry",), lambda dry: dry, "t85", "AASHTO T 85")
FINE_PORTION = PORTION_OFF(
    inputs=("mass_ssd",),
    holds=near,
    bounds=around("g", "t84_portion", 500, 10),
    limit="{} ± {} g surface-dry",
    source="AASHTO T 84",
    mark=FROM_MEMORY,
)


def _statements(single: tuple[str, ...], several: tuple[str, ...], unit: str = "") -> tuple[Precision, ...]:
    return tuple(
        Precision(f"single operator s / d2s {one}; multilaboratory {more}{unit}", FROM_MEMORY)
        for one, more in zip(single, several, strict=True)
    )


_COARSE_PRECISION = _statements(
    ("0.009 / 0.025", "0.007 / 0.020", "0.007 / 0.020", "0.088 / 0.25 (%)"),
    ("0.013 / 0.038", "0.011 / 0.032", "0.011 / 0.032", "0.145 / 0.41 (%)"),
)
_FINE_PRECISION = _statements(
    ("0.011 / 0.032", "0.0095 / 0.027", "0.0095 / 0.027", "0.11 / 0.31 (%)"),
    ("0.023 / 0.066", "0.020 / 0.056", "0.020 / 0.056", "0.23 / 0.66 (%)"),
)
_IN_WATER = ("mass_dry", "mass_ssd", "mass_submerged")
_IN_PYCNOMETER = ("mass_dry", "mass_ssd", "mass_container_water", "mass_container_sample_water")
_COARSE_LETTERS = "with A oven-dry in air, B surface-dry in air, C surface-dry in water"
_FINE_LETTERS = "with A oven-dry, S surface-dry, B pycnometer with water, C pycnometer with sample and water"

#: Equation, masses of `_IN_WATER` or `_IN_PYCNOMETER` it reads, and the expression; in the order of the properties.
_COARSE_WAYS: tuple[tuple[str, tuple[int, ...], Expression], ...] = (
    ("Gsb = A / (B - C)", (0, 1, 2), lambda dry, ssd, water: dry / (ssd - water)),
    ("Gsb,SSD = B / (B - C)", (1, 2), lambda ssd, water: ssd / (ssd - water)),
    ("Gsa = A / (A - C)", (0, 2), lambda dry, water: dry / (dry - water)),
    ("absorption = 100 (B - A) / A", (0, 1), lambda dry, ssd: 100 * (ssd - dry) / dry),
)
_FINE_WAYS: tuple[tuple[str, tuple[int, ...], Expression], ...] = (
    ("Gsb = A / (B + S - C)", (0, 1, 2, 3), lambda dry, ssd, water, sample: dry / (water + ssd - sample)),
    ("Gsb,SSD = S / (B + S - C)", (1, 2, 3), lambda ssd, water, sample: ssd / (water + ssd - sample)),
    ("Gsa = A / (B + A - C)", (0, 2, 3), lambda dry, water, sample: dry / (water + dry - sample)),
    ("absorption = 100 (S - A) / A", (0, 1), lambda dry, ssd: 100 * (ssd - dry) / dry),
)

COARSE_FORMULAS = tuple(
    Formula(
        property=prop,
        grain=Grain.SPECIMEN,
        route="weighed_in_water",
        standard=COARSE,
        section="calculation",
        equation=f"{equation}, {_COARSE_LETTERS}",
        inputs=tuple(_IN_WATER[place] for place in places),
        expression=expression,
        checks=(MASS_ORDER, WATER, *COARSE_PORTION),
        precision=precision,
        method=Method.T85,
        lead=_IN_WATER,
    )
    for prop, (equation, places, expression), precision in zip(OF_COARSE, _COARSE_WAYS, _COARSE_PRECISION, strict=True)
)
FINE_FORMULAS = tuple(
    Formula(
        property=prop,
        grain=Grain.SPECIMEN,
        route="pycnometer",
        standard=FINE,
        section="calculation",
        equation=f"{equation}, {_FINE_LETTERS}",
        inputs=tuple(_IN_PYCNOMETER[place] for place in places),
        expression=expression,
        checks=(FINE_ORDER, WATER, FINE_PORTION),
        precision=precision,
        method=Method.T84,
        lead=_IN_PYCNOMETER,
    )
    for prop, (equation, places, expression), precision in zip(OF_FINE, _FINE_WAYS, _FINE_PRECISION, strict=True)
)


def _mean(prop: Property, method: Method, standard: str) -> Mean:
    return Mean(
        property=prop,
        grain=Grain.SAMPLE,
        of=prop,
        of_grain=Grain.SPECIMEN,
        method=method,
        standard=standard,
    )


MEANS = (
    *(_mean(prop, Method.T85, COARSE) for prop in OF_COARSE),
    *(_mean(prop, Method.T84, FINE) for prop in OF_FINE),
)

_BOTH = "coarse and fine together, by the share passing 4.75 mm"
AGGREGATE_GSB = Property("aggregate_gsb", "Gsb of the aggregate", f"bulk specific gravity, {_BOTH}", None, 3)
AGGREGATE_GSA = Property("aggregate_gsa", "Gsa of the aggregate", f"apparent specific gravity, {_BOTH}", None, 3)
AGGREGATE_ABSORPTION = Property("aggregate_absorption", "absorption", f"water absorbed, {_BOTH}", "%", 1)


def _harmonic(coarse: pl.Expr, fine: pl.Expr, passing: pl.Expr) -> pl.Expr:
    return 100 / ((100 - passing) / coarse + passing / fine)


def _arithmetic(coarse: pl.Expr, fine: pl.Expr, passing: pl.Expr) -> pl.Expr:
    return ((100 - passing) * coarse + passing * fine) * 0.01


def _together(prop: Property, symbol: str, expression: Expression, equation: str) -> tuple[Formula, Formula, Formula]:
    both = Formula(
        property=prop,
        grain=Grain.SAMPLE,
        route="coarse_and_fine",
        standard="AASHTO T 84, T 85",
        section="average of coarse and fine",
        equation=f"{equation}, with P4.75 passing 4.75 mm",
        inputs=(f"{symbol}_coarse", f"{symbol}_fine", "passing_4_75"),
        expression=expression,
        lead=(f"{symbol}_coarse", f"{symbol}_fine"),
    )
    single = {"fine": pl.col("passing_4_75") >= 100 - 1e-9, "coarse": pl.col("passing_4_75") <= 1e-9}
    alone = [
        replace(
            both,
            route=f"{fraction}_only",
            equation=f"{prop.symbol} = {fraction}: the whole aggregate is {fraction}",
            inputs=(f"{symbol}_{fraction}",),
            expression=lambda found: found * 1.0,
            applies=condition,
            lead=(f"{symbol}_{fraction}",),
        )
        for fraction, condition in single.items()
    ]
    return both, alone[0], alone[1]


TOGETHER = (
    *_together(AGGREGATE_GSB, "gsb", _harmonic, "Gsb = 100 / ((100 - P4.75) / Gsb coarse + P4.75 / Gsb fine)"),
    *_together(AGGREGATE_GSA, "gsa", _harmonic, "Gsa = 100 / ((100 - P4.75) / Gsa coarse + P4.75 / Gsa fine)"),
    *_together(
        AGGREGATE_ABSORPTION,
        "absorption",
        _arithmetic,
        "absorption = ((100 - P4.75) absorption coarse + P4.75 absorption fine) / 100",
    ),
)
