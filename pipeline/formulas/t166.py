"""AASHTO T 166: bulk specific gravity of compacted specimens, surface-dry; where another method takes its place."""

from dataclasses import replace

import polars as pl

from pipeline.formulas.circumstances import (
    BALANCE,
    CONSTANT_MASS,
    IMMERSION,
    LARGE_ENOUGH,
    OVEN,
    ROOM_TEMPERATURE,
    THICK_ENOUGH,
    usual_gravity,
)
from pipeline.formulas.conditions import at_most, near
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
    around,
)
from schemas.vocabulary import Material, Method

STANDARD = "AASHTO T 166"

GMB = Property("gmb", "Gmb", "bulk specific gravity", None, 3)
CORE_GMB = Property("core_gmb", "Gmb of the core", "bulk specific gravity of the core", None, 3)
GMB_BESIDE = Property(
    "gmb_surface_dry",
    "Gmb (T 166)",
    "bulk specific gravity surface-dry, of a specimen that was sealed as well",
    None,
    3,
)
WATER_ABSORPTION = Property("water_absorption", "absorption", "water absorbed, by volume", "%", 2)

_REMEDY = "compare the three masses with the balance print-out; correct the role or the mass, and export again"
MASS_ORDER = Check(
    code="masses_out_of_order",
    sentence="the masses contradict each other",
    inputs=("mass_dry", "mass_ssd", "mass_submerged"),
    holds=lambda dry, ssd, submerged: (ssd >= dry) & (dry > submerged),
    limit="surface-dry >= dry > submerged",
    source="AASHTO T 166, by the meaning of the masses",
    mark=COMMON_PRACTICE,
    effect="withhold",
    remedy=_REMEDY,
)
MASS_ORDER_DRIED = replace(MASS_ORDER, inputs=("mass_dried", "mass_ssd", "mass_submerged"))


def _volumeter_order(dry: pl.Expr, ssd: pl.Expr, water: pl.Expr, specimen: pl.Expr) -> pl.Expr:
    order = (ssd >= dry) & (dry > 0) & (specimen > water) & (ssd + water > specimen)
    # Without the volumeter the same two masses belong to another method, whose check tells of them.
    return pl.when(water.is_not_null() & specimen.is_not_null()).then(order)


MASS_ORDER_VOLUMETER = Check(
    code="masses_out_of_order",
    sentence="the masses contradict each other",
    inputs=("mass_dry", "mass_ssd", "mass_volumeter_water", "mass_volumeter_specimen"),
    holds=_volumeter_order,
    limit="surface-dry >= dry, and volumeter with water < volumeter with specimen < the former + surface-dry",
    source="AASHTO T 166, method B, by the meaning of the masses",
    mark=COMMON_PRACTICE,
    effect="withhold",
    remedy=_REMEDY,
)


def _absorbed(dry: pl.Expr, ssd: pl.Expr, submerged: pl.Expr) -> pl.Expr:
    return 100 * (ssd - dry) / (ssd - submerged)


def _absorbed_volumeter(dry: pl.Expr, ssd: pl.Expr, water: pl.Expr, specimen: pl.Expr) -> pl.Expr:
    return 100 * (ssd - dry) / (ssd + water - specimen)


#: Largest absorption of the method, % by volume (AASHTO T 166, scope).
LARGEST_ABSORPTION = 2.0
ABSORPTION_LIMIT = Check(
    code="water_absorbed_above_limit",
    sentence="the specimen absorbs too much water for this method: use T 275 or T 331",
    inputs=("mass_dry", "mass_ssd", "mass_submerged"),
    holds=lambda dry, ssd, submerged: _absorbed(dry, ssd, submerged) <= LARGEST_ABSORPTION,
    limit="water absorbed at most 2.0 % by volume",
    source="AASHTO T 166-16, scope; WAQTC FOP for AASHTO T 166",
)
ABSORPTION_LIMIT_DRIED = replace(ABSORPTION_LIMIT, inputs=MASS_ORDER_DRIED.inputs)
ABSORPTION_LIMIT_VOLUMETER = replace(
    ABSORPTION_LIMIT,
    inputs=MASS_ORDER_VOLUMETER.inputs,
    holds=lambda *masses: _absorbed_volumeter(*masses) <= LARGEST_ABSORPTION,
)
BATH = Check(
    code="bath_temperature_off",
    sentence="the bath was not at its temperature",
    inputs=("water_temperature",),
    holds=near,
    bounds=around("c", "t166_bath", 25, 1),
    limit="{} ± {} °C",
    source="AASHTO T 166:16(2020), 6.2",
)
_COMMON = (BATH, ROOM_TEMPERATURE, IMMERSION, BALANCE)
_PRECISION = Precision(
    "single operator s 0.008 (12.5 mm) or 0.013 (19 mm), d2s 0.023 or 0.037; multilaboratory s 0.015, d2s 0.042; "
    "older D2726: single operator s 0.0124, d2s 0.035; multilaboratory s 0.0269, d2s 0.076",
    FROM_MEMORY,
)
#: Where the specimen was sealed as well, its surface-dry figure counts only within the limit of the method.
_COUNTS = pl.col("gmb_sealed").is_null() | (pl.col("water_absorption") <= LARGEST_ABSORPTION)


def _surface_dry(prop: Property, before: str, material: Material | None, applies: pl.Expr) -> tuple[Formula, ...]:
    """Return methods A, C and B for a property; route names start with `before`."""
    size = (THICK_ENOUGH,) if material is Material.CORE else (LARGE_ENOUGH,) if material is Material.MIX else ()
    checks = (*_COMMON, *size, usual_gravity(prop))
    method_a = Formula(
        property=prop,
        grain=Grain.SPECIMEN,
        route=f"{before}surface_dry",
        standard=STANDARD,
        section="method A",
        equation="Gmb = A / (B - C), with A dry in air, B surface-dry in air, C in water",
        inputs=("mass_dry", "mass_ssd", "mass_submerged"),
        expression=lambda dry, ssd, submerged: dry / (ssd - submerged),
        applies=applies,
        checks=(MASS_ORDER, ABSORPTION_LIMIT, *checks),
        precision=_PRECISION,
        method=Method.T166,
        material=material,
    )
    method_c = replace(
        method_a,
        route=f"{before}dried_afterwards",
        section="method C",
        equation="Gmb = A / (B - C), with A dried after the weighings in water, B surface-dry in air, C in water",
        inputs=("mass_dried", "mass_ssd", "mass_submerged"),
        lead=("mass_dried",),
        checks=(MASS_ORDER_DRIED, ABSORPTION_LIMIT_DRIED, OVEN, CONSTANT_MASS, *checks),
    )
    method_b = replace(
        method_a,
        route=f"{before}volumeter",
        section="method B (number from memory)",
        equation="Gmb = A / (B + D - E), with A dry in air, B surface-dry in air, D volumeter with water, "
        "E volumeter with specimen and water",
        inputs=("mass_dry", "mass_ssd", "mass_volumeter_water", "mass_volumeter_specimen"),
        expression=lambda dry, ssd, water, specimen: dry / (ssd + water - specimen),
        lead=("mass_volumeter_specimen", "mass_volumeter_water"),
        checks=(MASS_ORDER_VOLUMETER, ABSORPTION_LIMIT_VOLUMETER, *checks),
    )
    return method_a, method_c, method_b


#: The same weighing and equation for cores, under a name of its own: the two must never mix.
SURFACE_DRY = (
    *_surface_dry(GMB, "", Material.MIX, _COUNTS),
    *_surface_dry(CORE_GMB, "core_", Material.CORE, _COUNTS),
    *_surface_dry(GMB_BESIDE, "", None, pl.col("mass_sealed").is_not_null()),
)
GMB_SURFACE_DRY = SURFACE_DRY[0]

ABSORBED = Formula(
    property=WATER_ABSORPTION,
    grain=Grain.SPECIMEN,
    route="surface_dry",
    standard=STANDARD,
    section="method A",
    equation="absorption = 100 (B - A) / (B - C), with A dry in air, B surface-dry in air, C in water",
    inputs=("mass_dry", "mass_ssd", "mass_submerged"),
    expression=_absorbed,
    checks=(MASS_ORDER, ABSORPTION_LIMIT, BATH),
    method=Method.T166,
)
ABSORBED_DRIED = replace(
    ABSORBED,
    route="dried_afterwards",
    section="method C",
    equation="absorption = 100 (B - A) / (B - C), with A dried after the weighings in water, B surface-dry in air, "
    "C in water",
    inputs=MASS_ORDER_DRIED.inputs,
    lead=("mass_dried",),
    checks=(MASS_ORDER_DRIED, ABSORPTION_LIMIT_DRIED, BATH),
)
ABSORBED_VOLUMETER = replace(
    ABSORBED,
    route="volumeter",
    section="method B (number from memory)",
    equation="absorption = 100 (B - A) / (B + D - E), with A dry in air, B surface-dry in air, D volumeter with "
    "water, E volumeter with specimen and water",
    inputs=MASS_ORDER_VOLUMETER.inputs,
    expression=_absorbed_volumeter,
    lead=("mass_volumeter_specimen", "mass_volumeter_water"),
    checks=(MASS_ORDER_VOLUMETER, ABSORPTION_LIMIT_VOLUMETER, BATH),
)

SPECIMENS_DIFFER = Check(
    code="specimens_differ",
    sentence="the specimens of the sample differ more than duplicates may",
    inputs=("range",),
    holds=at_most,
    bounds=(Bound("t166_difference", 0.02),),
    limit="difference of Gmb at most {}",
    source="AASHTO T 166, precision",
    mark=FROM_MEMORY,
)

GMB_OF_SAMPLE = Mean(
    property=GMB,
    grain=Grain.SAMPLE,
    of=GMB,
    of_grain=Grain.SPECIMEN,
    method=Method.T166,
    standard=STANDARD,
    counted_by="gmb_n_design",
    material=Material.MIX,
    checks=(SPECIMENS_DIFFER,),
)
ABSORPTION_OF_SAMPLE = Mean(
    property=WATER_ABSORPTION,
    grain=Grain.SAMPLE,
    of=WATER_ABSORPTION,
    of_grain=Grain.SPECIMEN,
    method=Method.T166,
    standard=STANDARD,
    counted_by="gmb_n_design",
    material=Material.MIX,
)
ABSORPTION_OF_CORES = Mean(
    property=WATER_ABSORPTION,
    grain=Grain.SAMPLE,
    of=WATER_ABSORPTION,
    of_grain=Grain.SPECIMEN,
    method=Method.T166,
    route="mean_of_cores",
    standard=STANDARD,
    material=Material.CORE,
)
