"""AASHTO T 269: air voids of compacted mixture, and bulk specific gravity by dimensions where it is open."""

import math

import polars as pl

from pipeline.formulas.circumstances import usual_gravity
from pipeline.formulas.model import (
    COMMON_PRACTICE,
    FROM_MEMORY,
    Bound,
    Check,
    Formula,
    Grain,
    Mean,
    Precision,
    Property,
)
from pipeline.formulas.t166 import CORE_GMB, GMB
from schemas.vocabulary import Material, Method

STANDARD = "AASHTO T 269"

AIR_VOIDS = Property("air_voids", "Va", "air voids", "%", 1)
GMB_DIMENSIONS = Property("gmb_dimensions", "Gmb (T 269)", "bulk specific gravity by dimensions", None, 3)
VOLUME = Property("volume_dimensions", "V", "volume by dimensions", "cm³", 1)

BELOW_MAXIMUM = Check(
    code="gmb_not_below_gmm",
    sentence="the specimen is denser than its own maximum: Gmb or Gmm is wrong",
    inputs=("gmb", "gmm"),
    holds=lambda gmb, gmm: gmb < gmm,
    limit="Gmb < Gmm",
    source="order of the gravities",
    mark=COMMON_PRACTICE,
)
READINGS = Check(
    code="too_few_readings",
    sentence="fewer readings were taken than the method wants",
    inputs=("length_height_n", "length_diameter_n"),
    holds=lambda heights, diameters, least: (heights >= least) & (diameters >= least),
    bounds=(Bound("t269_readings", 4),),
    limit="at least {} readings each of height and diameter",
    source="AASHTO T 269, 6; ASTM D3203, 7",
    mark=FROM_MEMORY,
)


def _open(prop: Property) -> Check:
    return Check(
        code="not_open",
        sentence="measured by dimensions, but not open: weigh it by T 166 or T 331",
        inputs=(prop.name, "gmm", "open_voids_from"),
        holds=lambda gmb, gmm, boundary: 100 * (1 - gmb / gmm) >= boundary.fill_null(10.0),
        limit="air voids of 10 % or more, or as the settings say",
        source="AASHTO T 269, boundary of dense and open mixtures",
        mark=FROM_MEMORY,
    )


def _cylinder(height: pl.Expr, diameter: pl.Expr) -> pl.Expr:
    return diameter * diameter * height * (math.pi / 4000)


VOLUME_BY_DIMENSIONS = Formula(
    property=VOLUME,
    grain=Grain.SPECIMEN,
    route="cylinder",
    standard=STANDARD,
    section="6 (number from memory)",
    equation="V = π d² h / 4 · 0.001, with d and h the means of at least four readings each",
    inputs=("length_height", "length_diameter"),
    expression=_cylinder,
    checks=(READINGS,),
    method=Method.T269,
    by_hand_only=True,
)


def _by_dimensions(
    prop: Property,
    route: str,
    material: Material | None,
    takes: tuple[tuple[str, str], ...] = (),
    applies: pl.Expr | None = None,
) -> Formula:
    return Formula(
        property=prop,
        grain=Grain.SPECIMEN,
        route=route,
        standard=STANDARD,
        section="6 (number from memory)",
        equation="Gmb = m / (V ρ), with m the dry mass, V = π d² h / 4, ρ water at 25 °C (0.99707 g/cm³)",
        inputs=("mass_dry", "length_height", "length_diameter", "dimensions_water"),
        expression=lambda mass, height, diameter, water: mass / (_cylinder(height, diameter) * (water * 0.001)),
        defaults=(("dimensions_water", 997.07),),
        takes=(("mass_dry", "mass_dry_t269"), *takes),
        lead=("mass_dry", "length_height", "length_diameter"),
        applies=applies,
        checks=(READINGS, _open(prop), usual_gravity(prop)),
        method=Method.T269,
        material=material,
        parameters=("dimensions_water_kg_m3", "open_voids_from_pct"),
    )


#: A specimen that was sealed as well has its gravity from that.
_UNSEALED = pl.col("gmb_sealed").is_null()
DIMENSIONS = (
    _by_dimensions(GMB_DIMENSIONS, "dimensions", None),
    _by_dimensions(GMB, "dimensions", Material.MIX, applies=_UNSEALED),
    _by_dimensions(CORE_GMB, "core_dimensions", Material.CORE, (("gmm", "gmm_lot"),), _UNSEALED),
)

VOIDS = Formula(
    property=AIR_VOIDS,
    grain=Grain.SPECIMEN,
    route="from_gravities",
    standard=STANDARD,
    section="dense and open mixtures",
    equation="Va = 100 (1 - Gmb / Gmm)",
    inputs=("gmb", "gmm"),
    takes=(("gmb", "gmb_n_design"),),
    expression=lambda gmb, gmm: 100 * (1 - gmb / gmm),
    checks=(BELOW_MAXIMUM,),
    precision=Precision("single operator s 0.51, d2s 1.44; multilaboratory s 1.09, d2s 3.08 (%)", FROM_MEMORY),
    method=Method.T166,
    material=Material.MIX,
)
VOIDS_OF_SAMPLE = Mean(
    property=AIR_VOIDS,
    grain=Grain.SAMPLE,
    of=AIR_VOIDS,
    of_grain=Grain.SPECIMEN,
    method=Method.T166,
    standard=STANDARD,
    material=Material.MIX,
)
