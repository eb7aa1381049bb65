"""AASHTO T 312: gyratory compaction and density at each gyration."""

import math

import polars as pl

from pipeline.formulas.conditions import near, within
from pipeline.formulas.model import (
    COMMON_PRACTICE,
    FROM_MEMORY,
    Check,
    Formula,
    Grain,
    Mean,
    Precision,
    Property,
    around,
    bounds,
)
from pipeline.formulas.t166 import SPECIMENS_DIFFER
from pipeline.formulas.t269 import BELOW_MAXIMUM
from schemas.vocabulary import Material, Method, StopRule

STANDARD = "AASHTO T 312"

GMB_N_DESIGN = Property("gmb_n_design", "Gmb(Ndes)", "bulk specific gravity at N design", None, 3)
GMB_CORRECTED = Property("gmb_corrected", "Gmb,corr", "bulk specific gravity at the gyration", None, 3, at="gyration")
GMB_ESTIMATED = Property("gmb_estimated", "Gmb,est", "bulk specific gravity estimated from the height", None, 3)
RELATIVE_DENSITY = Property("relative_density", "%Gmm", "density as a share of Gmm", "%", 1, at="gyration")

PRESSURE = Check(
    code="ram_pressure_off",
    sentence="the ram pressure was outside the limits of the method",
    inputs=("pressure",),
    holds=near,
    bounds=around("kpa", "t312_pressure", 600, 18),
    limit="{} ± {} kPa",
    source="Florida asphalt plant level 1 study cards; AASHTO T 312",
    mark=FROM_MEMORY,
)
ANGLE = Check(
    code="gyration_angle_off",
    sentence="the internal angle was outside the limits of the method",
    inputs=("angle",),
    holds=near,
    bounds=around("deg", "t312_angle", 1.16, 0.02),
    limit="{} ± {}°",
    source="Canadian interlaboratory instructions, gyratory compaction of plant mix; AASHTO T 312",
)
RATE = Check(
    code="gyration_rate_off",
    sentence="the rate of gyration was outside the limits of the method",
    inputs=("speed",),
    holds=near,
    bounds=around("per_min", "t312_rate", 30, 0.5),
    limit="{} ± {} gyrations per minute",
    source="Florida asphalt plant level 1 study cards; AASHTO T 312",
    mark=FROM_MEMORY,
)
HEIGHTS_FALL = Check(
    code="height_rises",
    sentence="the height rises from one gyration to the next",
    inputs=("height_rise",),
    holds=lambda rise: rise <= 1e-9,
    limit="the height never rises",
    source="AASHTO T 312, by the meaning of the heights",
    mark=COMMON_PRACTICE,
)
MOULD = Check(
    code="mould_out_of_limits",
    sentence="the mould was outside the limits of the method",
    inputs=("mould_diameter",),
    # Moulds of 100 mm are an option of the method whose limits are not known to us.
    holds=lambda diameter, low, high: (diameter < 125) | within(diameter, low, high),
    bounds=bounds("mm", t312_mould_least=149.9, t312_mould_largest=150.2),
    limit="inside diameter {} to {} mm",
    source=STANDARD,
    mark=FROM_MEMORY,
)
HEIGHT = Check(
    code="specimen_out_of_limits",
    sentence="size or air voids of the specimen are outside the limits of the method",
    inputs=("height_final", "mould_diameter"),
    holds=lambda height, diameter, target, tolerance: (
        (diameter.fill_null(150.0) < 125) | near(height, target, tolerance)
    ),
    bounds=around("mm", "t312_height", 115, 5),
    limit="height {} ± {} mm at 150 mm diameter",
    source="Florida asphalt plant level 1 study cards (other sources: about 115 mm)",
)
_PRESS = (PRESSURE, ANGLE, RATE, HEIGHTS_FALL, MOULD, HEIGHT)

STOPPED_AT_HEIGHT = Check(
    code="stopped_at_height",
    sentence="compacted to a height, not to N design: the specimen does not count for volumetrics",
    inputs=("stop_rule",),
    holds=lambda rule: rule == StopRule.GYRATIONS.value,
    limit="compaction ended by a number of gyrations",
    source="AASHTO R 35, volumetrics at N design",
    mark=COMMON_PRACTICE,
    effect="withhold",
)
REACHED_N_DESIGN = Check(
    code="below_n_design",
    sentence="compaction ended before N design: the specimen does not count for volumetrics",
    inputs=("gyrations", "n_design"),
    holds=lambda gyrations, n_design: gyrations >= n_design,
    limit="gyrations at least N design",
    source="AASHTO R 35, volumetrics at N design",
    mark=COMMON_PRACTICE,
    effect="withhold",
)
RECORDED = Check(
    code="no_compaction_record",
    sentence="no compaction run is on record: the specimen is taken as compacted to N design",
    inputs=("gyrations",),
    holds=lambda gyrations: gyrations.is_not_null(),
    limit="a compaction run with its gyrations",
    source="AASHTO R 35, volumetrics at N design",
    mark=COMMON_PRACTICE,
)


def _at_height(gmb: pl.Expr, final: pl.Expr, height: pl.Expr) -> pl.Expr:
    return gmb * final / height


AS_COMPACTED = Formula(
    property=GMB_N_DESIGN,
    grain=Grain.SPECIMEN,
    route="compacted_to_n_design",
    standard=STANDARD,
    section="volumetrics at N design",
    equation="Gmb(Ndes) = Gmb, compaction having ended at N design",
    inputs=("gmb",),
    expression=lambda gmb: gmb * 1.0,
    applies=pl.col("gyrations") == pl.col("n_design"),
    checks=(STOPPED_AT_HEIGHT, *_PRESS),
    method=Method.T312,
    material=Material.MIX,
)
BY_HEIGHTS = Formula(
    property=GMB_N_DESIGN,
    grain=Grain.SPECIMEN,
    route="from_heights",
    standard=STANDARD,
    section="11 (number from memory)",
    equation="Gmb(Ndes) = Gmb · h final / h(Ndes)",
    inputs=("gmb", "height_final", "height_n_design"),
    expression=_at_height,
    applies=pl.col("gyrations").is_not_null() & pl.col("gyrations").ne_missing(pl.col("n_design")),
    checks=(STOPPED_AT_HEIGHT, REACHED_N_DESIGN, *_PRESS),
    method=Method.T312,
    material=Material.MIX,
)
WITHOUT_RUN = Formula(
    property=GMB_N_DESIGN,
    grain=Grain.SPECIMEN,
    route="without_compaction_record",
    standard=STANDARD,
    section="volumetrics at N design",
    equation="Gmb(Ndes) = Gmb, no compaction run being on record",
    inputs=("gmb",),
    expression=lambda gmb: gmb * 1.0,
    applies=pl.col("gyrations").is_null(),
    checks=(RECORDED,),
    method=Method.T312,
    material=Material.MIX,
)
N_DESIGN_OF_SAMPLE = Mean(
    property=GMB_N_DESIGN,
    grain=Grain.SAMPLE,
    of=GMB_N_DESIGN,
    of_grain=Grain.SPECIMEN,
    method=Method.T312,
    standard=STANDARD,
    material=Material.MIX,
    checks=(SPECIMENS_DIFFER,),
)

CORRECTED = Formula(
    property=GMB_CORRECTED,
    grain=Grain.SPECIMEN_GYRATION,
    route="from_heights",
    standard=STANDARD,
    section="11 (number from memory)",
    equation="Gmb,corr(N) = Gmb · h final / h(N)",
    inputs=("gmb", "height_final", "height"),
    expression=_at_height,
    method=Method.T312,
)
ESTIMATED = Formula(
    property=GMB_ESTIMATED,
    grain=Grain.SPECIMEN_GYRATION,
    route="from_mould",
    standard="FHWA-SA-95-003",
    section="densification (from memory)",
    equation="Gmb,est(N) = W / (π d² h(N) / 4 · 0.001), water at 1 g/cm³",
    inputs=("mass_mixture", "mould_diameter", "height"),
    expression=lambda mass, diameter, height: mass / (math.pi * diameter * diameter * height / 4 * 0.001),
    method=Method.T312,
    by_hand_only=True,
)
CORRECTED_BY_FACTOR = Formula(
    property=GMB_CORRECTED,
    grain=Grain.SPECIMEN_GYRATION,
    route="correction_factor",
    standard="FHWA-SA-95-003",
    section="densification (from memory)",
    equation="Gmb,corr(N) = C · Gmb,est(N), with C = Gmb / Gmb,est at the last gyration",
    inputs=("gmb", "mass_mixture", "mould_diameter", "height_final", "height"),
    expression=lambda gmb, mass, diameter, final, height: (
        gmb
        / (mass / (math.pi * diameter * diameter * final / 4 * 0.001))
        * (mass / (math.pi * diameter * diameter * height / 4 * 0.001))
    ),
    method=Method.T312,
    by_hand_only=True,
)


def _relative(gmb: pl.Expr, gmm: pl.Expr, final: pl.Expr, height: pl.Expr) -> pl.Expr:
    return 100 * gmb * final / (gmm * height)


_DENSITY_PRECISION = Precision(
    "single operator s 0.3, d2s 0.9 (12.5 mm) or s 0.5, d2s 1.4 (19 mm); multilaboratory s 0.6, d2s 1.7 (%)",
    FROM_MEMORY,
)
AT_GYRATION = Formula(
    property=RELATIVE_DENSITY,
    grain=Grain.SPECIMEN_GYRATION,
    route="from_heights",
    standard=STANDARD,
    section="11 (number from memory)",
    equation="%Gmm(N) = 100 · Gmb · h final / (Gmm · h(N))",
    inputs=("gmb", "gmm", "height_final", "height"),
    expression=_relative,
    precision=_DENSITY_PRECISION,
    method=Method.T312,
)


def _at_level(level: str) -> tuple[Formula, Mean]:
    prop = Property(
        f"relative_density_n_{level}", f"%Gmm(N {level})", f"density at N {level} as a share of Gmm", "%", 1
    )
    reached = pl.col("gyrations") >= pl.col(f"n_{level}")
    by_gyrations = pl.col("stop_rule") == StopRule.GYRATIONS.value
    formula = Formula(
        property=prop,
        grain=Grain.SPECIMEN,
        route="from_heights",
        standard=STANDARD,
        section="11 (number from memory)",
        equation=f"%Gmm(N {level}) = 100 · Gmb · h final / (Gmm · h(N {level}))",
        inputs=("gmb", "gmm", "height_final", f"height_n_{level}"),
        expression=_relative,
        applies=by_gyrations & reached,
        checks=(BELOW_MAXIMUM, *_PRESS),
        precision=_DENSITY_PRECISION,
        method=Method.T312,
        material=Material.MIX,
    )
    mean = Mean(
        property=prop,
        grain=Grain.SAMPLE,
        of=prop,
        of_grain=Grain.SPECIMEN,
        method=Method.T312,
        standard=STANDARD,
        counted_by="gmb_n_design",
        material=Material.MIX,
    )
    return formula, mean


LEVELS = tuple(route for level in ("initial", "design", "maximum") for route in _at_level(level))
