"""AASHTO T 283, ASTM D6931: indirect tensile strength, saturation and the strength ratio."""

import math

import polars as pl

from pipeline.formulas.conditions import at_least, near, within
from pipeline.formulas.load_tests import (
    PEAK,
    mean_of,
    quantity,
    rate_check,
    specimen_check,
    temperature_check,
    voids_check,
)
from pipeline.formulas.model import (
    COMMON_PRACTICE,
    FROM_MEMORY,
    Bound,
    Check,
    Expression,
    Formula,
    Grain,
    Property,
    around,
    bounds,
)
from pipeline.formulas.t166 import MASS_ORDER
from schemas.vocabulary import Conditioning, Method

STANDARD = "AASHTO T 283"

QUANTITIES = (
    quantity("freeze_time", "t freeze", "time in the freezer", "min"),
    quantity("freeze_temperature", "T freeze", "temperature of the freezer", "°C"),
    quantity("thaw_time", "t thaw", "time in the hot bath", "min"),
    quantity("thaw_temperature", "T thaw", "temperature of the hot bath", "°C"),
    quantity("saturation_low", "S' low", "least saturation, by the settings", "%"),
    quantity("saturation_high", "S' high", "largest saturation, by the settings", "%"),
)

TENSILE_STRENGTH = Property("tensile_strength", "St", "indirect tensile strength", "kPa", 0)
STRENGTH_DRY = Property("tensile_strength_dry", "S1", "indirect tensile strength, dry", "kPa", 0)
STRENGTH_CONDITIONED = Property(
    "tensile_strength_conditioned", "S2", "indirect tensile strength, conditioned", "kPa", 0
)
VOIDS_DRY = Property("air_voids_dry", "Pa dry", "air voids of the dry group", "%", 1)
VOIDS_CONDITIONED = Property("air_voids_conditioned", "Pa cond.", "air voids of the conditioned group", "%", 1)
THICKNESS_DRY = Property("thickness_dry", "t dry", "thickness of the dry group", "mm", 1)
THICKNESS_CONDITIONED = Property("thickness_conditioned", "t cond.", "thickness of the conditioned group", "mm", 1)
SATURATION = Property("saturation", "S'", "degree of saturation", "%", 1)
TSR = Property("tsr", "TSR", "tensile strength ratio, conditioned to dry", None, 2)


def _right_size(
    diameter: pl.Expr, thickness: pl.Expr, small: float, within_small: float, large: float, within_large: float
) -> pl.Expr:
    of_small, of_large = near(thickness, small, within_small), near(thickness, large, within_large)
    return pl.when(diameter < 125).then(of_small).otherwise(of_large)


SIZE = specimen_check(
    ("specimen_diameter", "specimen_thickness"),
    _right_size,
    "100 x {} ± {} mm or 150 x {} ± {} mm",
    STANDARD,
    bounds(
        "mm",
        t283_thickness_100=63.5,
        t283_thickness_100_tolerance=2.5,
        t283_thickness_150=95,
        t283_thickness_150_tolerance=5,
    ),
)
_LOADING = (*rate_check("t283", 50, 5, "AASHTO T 283, ASTM D6931"), temperature_check("t283", 25, 0.5, STANDARD))


def _conditioned(name: str, holds: Expression, limit: str, stated: tuple[Bound, ...]) -> Check:
    return Check(
        code="conditioning_off",
        sentence="the conditioning was outside the limits of the method",
        inputs=(name,),
        holds=holds,
        limit=limit,
        source=STANDARD,
        mark=FROM_MEMORY,
        bounds=stated,
    )


CONDITIONING = (
    _conditioned(
        "residual_pressure",
        within,
        "absolute pressure {} to {} kPa at saturation",
        bounds("kpa", t283_pressure_least=13, t283_pressure_largest=67),
    ),
    _conditioned(
        "freeze_temperature",
        near,
        "freezer at {} ± {} °C",
        around("c", "t283_freezer", -18, 3),
    ),
    _conditioned("freeze_time", at_least, "at least {} min in the freezer", bounds("min", t283_freezing=16 * 60)),
    _conditioned(
        "thaw_temperature",
        near,
        "hot bath at {} ± {} °C",
        around("c", "t283_hot_bath", 60, 1),
    ),
    _conditioned(
        "thaw_time",
        near,
        "{} ± {} min in the hot bath",
        around("min", "t283_thawing", 24 * 60, 60),
    ),
    _conditioned("soak_time", at_least, "{} min in the bath at 25 °C", bounds("min", t283_soak=120)),
)
_WINDOW_CHOICES = ("saturation_low_pct", "saturation_high_pct")
WINDOW = Check(
    code="saturation_off",
    sentence="the saturation is outside its window: above it the specimen is discarded, below it saturated again",
    inputs=("saturation", "saturation_low", "saturation_high"),
    holds=lambda found, low, high: (found >= low - 1e-9) & (found <= high + 1e-9),
    limit="70 to 80 %, or the window of the settings (55 to 80 % in older editions and ASTM D4867)",
    source=STANDARD,
    mark=FROM_MEMORY,
)
NOT_LIGHTER = Check(
    code=MASS_ORDER.code,
    sentence=MASS_ORDER.sentence,
    inputs=("mass_dry", "mass_saturated"),
    holds=lambda dry, saturated: saturated >= dry,
    limit="saturated >= dry",
    source="AASHTO T 283, by the meaning of the masses",
    mark=COMMON_PRACTICE,
    effect="withhold",
    remedy="compare the two masses with the balance print-out; correct the role or the mass, and export again",
)


def _strength(
    prop: Property, route: str, applies: pl.Expr, checks: tuple[Check, ...], choices: tuple[str, ...] = (PEAK,)
) -> Formula:
    return Formula(
        property=prop,
        grain=Grain.SPECIMEN,
        route=route,
        standard="AASHTO T 283, ASTM D6931",
        section="calculation",
        equation=f"{prop.symbol} = 2000 P / (π t D), with P in N, t and D in mm",
        inputs=("peak_load", "specimen_thickness", "specimen_diameter"),
        expression=lambda load, thickness, diameter: 2000 * load / (math.pi * thickness * diameter),
        applies=applies,
        checks=checks,
        method=Method.T283,
        parameters=choices,
    )


def _in(group: Conditioning) -> pl.Expr:
    return pl.col("conditioning") == group.value


STRENGTHS = (
    # Without a word on the conditioning it is a strength by itself (ASTM D6931), at whatever temperature.
    _strength(TENSILE_STRENGTH, "indirect", pl.col("conditioning").is_null(), rate_check("d6931", 50, 5, "ASTM D6931")),
    _strength(STRENGTH_DRY, "dry", _in(Conditioning.DRY), (SIZE, voids_check("t283", STANDARD), *_LOADING)),
    _strength(
        STRENGTH_CONDITIONED,
        "conditioned",
        _in(Conditioning.CONDITIONED),
        (SIZE, voids_check("t283", STANDARD), *_LOADING, *CONDITIONING, WINDOW),
        (PEAK, *_WINDOW_CHOICES),
    ),
)
SATURATED = Formula(
    property=SATURATION,
    grain=Grain.SPECIMEN,
    route="from_masses",
    standard=STANDARD,
    section="preconditioning",
    equation="S' = 100 (B' - A) / (Pa (B - C) / 100), with B' after saturation, surface-dry in air",
    inputs=("mass_saturated", "mass_dry", "mass_ssd", "mass_submerged", "specimen_air_voids"),
    expression=lambda saturated, dry, ssd, submerged, voids: (
        100 * (saturated - dry) / (voids * (ssd - submerged) * 0.01)
    ),
    checks=(MASS_ORDER, NOT_LIGHTER, WINDOW),
    lead=("mass_saturated",),
    method=Method.T283,
    parameters=_WINDOW_CHOICES,
)


def _of_group(prop: Property, group: Conditioning, name: str, standard: str) -> Formula:
    return Formula(
        property=prop,
        grain=Grain.SPECIMEN,
        route=group.value,
        standard=standard,
        section=f"group of T 283 ({COMMON_PRACTICE})",
        equation=f"{prop.symbol} = that of a specimen of the group",
        inputs=(name,),
        expression=lambda found: found * 1.0,
        applies=_in(group),
        method=Method.T283,
    )


_VOIDS, _THICKNESS = ("specimen_air_voids", "AASHTO T 269"), ("specimen_thickness", STANDARD)
GROUPS = (
    _of_group(VOIDS_DRY, Conditioning.DRY, *_VOIDS),
    _of_group(VOIDS_CONDITIONED, Conditioning.CONDITIONED, *_VOIDS),
    _of_group(THICKNESS_DRY, Conditioning.DRY, *_THICKNESS),
    _of_group(THICKNESS_CONDITIONED, Conditioning.CONDITIONED, *_THICKNESS),
)
MEANS = (
    mean_of(TENSILE_STRENGTH, Method.T283, "ASTM D6931"),
    mean_of(STRENGTH_DRY, Method.T283, STANDARD),
    mean_of(STRENGTH_CONDITIONED, Method.T283, STANDARD, parameters=(PEAK, *_WINDOW_CHOICES)),
    mean_of(SATURATION, Method.T283, STANDARD, (), _WINDOW_CHOICES),
    mean_of(VOIDS_DRY, Method.T283, STANDARD, (), ()),
    mean_of(VOIDS_CONDITIONED, Method.T283, STANDARD, (), ()),
    mean_of(THICKNESS_DRY, Method.T283, STANDARD, (), ()),
    mean_of(THICKNESS_CONDITIONED, Method.T283, STANDARD, (), ()),
)
ALIKE = Check(
    code="groups_voids_differ",
    sentence="the mean air voids of the dry and the conditioned group differ too much",
    inputs=("air_voids_dry", "air_voids_conditioned"),
    holds=lambda dry, conditioned, most: near(dry - conditioned, 0, most),
    bounds=bounds("pct", t283_groups_voids=0.5),
    limit="difference of the group means at most {} %",
    source="AASHTO T 283, grouping of specimens",
    mark=COMMON_PRACTICE,
)
ALIKE_IN_SIZE = Check(
    code="groups_thickness_differ",
    sentence="the mean thickness of the dry and the conditioned group differ too much",
    inputs=("thickness_dry", "thickness_conditioned"),
    holds=lambda dry, conditioned, low, high: within(conditioned / dry, low, high),
    bounds=(Bound("t283_groups_thickness_least_ratio", 0.95), Bound("t283_groups_thickness_largest_ratio", 1.05)),
    limit="ratio of the group means {} to {}",
    source="AASHTO T 283, grouping of specimens",
    mark=COMMON_PRACTICE,
)
RATIO = Formula(
    property=TSR,
    grain=Grain.SAMPLE,
    route="of_group_means",
    standard=STANDARD,
    section="calculation",
    equation="TSR = S2 / S1, of the means of the groups",
    inputs=("tensile_strength_conditioned", "tensile_strength_dry"),
    expression=lambda conditioned, dry: conditioned / dry,
    checks=(ALIKE, ALIKE_IN_SIZE),
    parameters=(PEAK, *_WINDOW_CHOICES),
)
