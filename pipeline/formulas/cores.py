"""Cores: density in the pavement against the maximum density of the lot, or against a stated reference density."""

import polars as pl

from pipeline.formulas.conditions import at_least
from pipeline.formulas.model import COMMON_PRACTICE, FROM_MEMORY, Bound, Check, Formula, Grain, Mean, Property
from pipeline.formulas.t166 import CORE_GMB
from pipeline.formulas.t269 import BELOW_MAXIMUM
from schemas.vocabulary import Material, Method

RELATIVE_COMPACTION = Property(
    "relative_compaction", "%Gmm in place", "density of the core as a share of Gmm of the lot", "%", 1
)
CORE_AIR_VOIDS = Property("core_air_voids", "Va in place", "air voids of the core", "%", 1)
CORE_DENSITY = Property(
    "core_density", "ρ core", "density of the core", "kg/m³", 0, missing="density of the core missing: no core weighed"
)
RELATIVE_TO_REFERENCE = Property(
    "relative_compaction_reference",
    "% of reference",
    "density of the core as a share of the reference density stated in the mix design",
    "%",
    1,
)
CORE_THICKNESS = Property("core_thickness", "t", "thickness of the core", "mm", 1)

_TAKES = (("gmb", "core_gmb"), ("gmm", "gmm_lot"))
_SOURCE = f"share of Gmm of the lot ({COMMON_PRACTICE})"

COMPACTION = Formula(
    property=RELATIVE_COMPACTION,
    grain=Grain.SPECIMEN,
    route="against_lot",
    standard="AASHTO T 166, T 209",
    section=_SOURCE,
    equation="relative compaction = 100 Gmb / Gmm, with Gmm the mean of the lot",
    inputs=("gmb", "gmm"),
    takes=_TAKES,
    expression=lambda gmb, gmm: 100 * gmb / gmm,
    checks=(BELOW_MAXIMUM,),
    method=Method.T166,
    material=Material.CORE,
)
VOIDS = Formula(
    property=CORE_AIR_VOIDS,
    grain=Grain.SPECIMEN,
    route="against_lot",
    standard="AASHTO T 269",
    section=_SOURCE,
    equation="Va = 100 (1 - Gmb / Gmm), with Gmm the mean of the lot",
    inputs=("gmb", "gmm"),
    takes=_TAKES,
    expression=lambda gmb, gmm: 100 * (1 - gmb / gmm),
    checks=(BELOW_MAXIMUM,),
    method=Method.T166,
    material=Material.CORE,
)
DENSITY = Formula(
    property=CORE_DENSITY,
    grain=Grain.SPECIMEN,
    route="from_gmb",
    standard="AASHTO T 166",
    section="density",
    equation="density = Gmb · density of water at 25 °C",
    inputs=("gmb", "water_density"),
    takes=(("gmb", "core_gmb"),),
    expression=lambda gmb, water: gmb * water,
    defaults=(("water_density", 997.1),),
    method=Method.T166,
    material=Material.CORE,
    parameters=("water_kg_m3",),
)
AGAINST_REFERENCE = Formula(
    property=RELATIVE_TO_REFERENCE,
    grain=Grain.SPECIMEN,
    route="against_reference",
    standard="AASHTO T 166",
    section=f"share of a reference density ({COMMON_PRACTICE})",
    equation="relative compaction = 100 · density of the core / reference density",
    inputs=("core_density", "reference_density"),
    expression=lambda density, reference: 100 * density / reference,
    lead=("reference_density",),
    applies=pl.col("core_gmb").is_not_null(),
    method=Method.T166,
    material=Material.CORE,
)

READINGS = Check(
    code="too_few_readings",
    sentence="fewer readings were taken than the method wants",
    inputs=("length_thickness_n",),
    holds=at_least,
    bounds=(Bound("core_thickness_readings", 4),),
    limit="at least {} readings around the core",
    source="ASTM D3549",
    mark=FROM_MEMORY,
)
EVEN = Check(
    code="thickness_uneven",
    sentence="the thickness readings of the core differ widely: look for a bad cut or a mistyped reading",
    inputs=("length_thickness_range", "thickness_range_limit"),
    holds=lambda spread, limit: spread <= limit + 1e-9,
    limit="range within the settings (6 mm as shipped)",
    source="own choice; ASTM D3549 leaves it to the agency",
    mark=COMMON_PRACTICE,
)
THICKNESS = Formula(
    property=CORE_THICKNESS,
    grain=Grain.SPECIMEN,
    route="readings",
    standard="ASTM D3549",
    section="",
    equation="t = mean of the readings around the core",
    inputs=("length_thickness",),
    expression=lambda mean: mean * 1.0,
    checks=(READINGS, EVEN),
    method=Method.D3549,
    material=Material.CORE,
    parameters=("thickness_range_mm",),
)
THICKNESS_STATED = Formula(
    property=CORE_THICKNESS,
    grain=Grain.SPECIMEN,
    route="stated",
    standard="ASTM D3549",
    section="",
    equation="t = mean thickness stated with the core",
    inputs=("thickness",),
    expression=lambda stated: stated * 1.0,
    method=Method.D3549,
    material=Material.CORE,
)


def _mean_of(*readings: pl.Expr) -> pl.Expr:
    total = readings[0]
    for each in readings[1:]:
        total = total + each
    return total * (1 / len(readings))


THICKNESS_BY_HAND = Formula(
    property=CORE_THICKNESS,
    grain=Grain.SPECIMEN,
    route="readings_by_hand",
    standard="ASTM D3549",
    section="",
    equation="t = (t1 + t2 + … ) / n",
    inputs=("t1", "t2"),
    expression=_mean_of,
    method=Method.D3549,
    by_hand_only=True,
    variadic=("t",),
)


def _mean(prop: Property, standard: str) -> Mean:
    return Mean(
        property=prop,
        grain=Grain.SAMPLE,
        of=prop,
        of_grain=Grain.SPECIMEN,
        method=Method.T166,
        standard=standard,
        material=Material.CORE,
    )


OF_SAMPLE = (
    _mean(CORE_GMB, "AASHTO T 166"),
    _mean(RELATIVE_COMPACTION, "AASHTO T 166, T 209"),
    _mean(CORE_AIR_VOIDS, "AASHTO T 269"),
    _mean(CORE_DENSITY, "AASHTO T 166"),
    _mean(RELATIVE_TO_REFERENCE, "AASHTO T 166"),
    _mean(CORE_THICKNESS, "ASTM D3549"),
)
