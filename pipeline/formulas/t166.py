"""AASHTO T 166: bulk specific gravity of compacted specimens, surface-dry."""

import polars as pl

from pipeline.formulas.model import COMMON_PRACTICE, FROM_MEMORY, Check, Formula, Grain, Mean, Precision, Property
from schemas.vocabulary import Material, Method

STANDARD = "AASHTO T 166"

GMB = Property("gmb", "Gmb", "bulk specific gravity", None, 3)
WATER_ABSORPTION = Property("water_absorption", "absorption", "water absorbed, by volume", "%", 2)

MASS_ORDER = Check(
    code="masses_out_of_order",
    sentence="the masses contradict each other",
    inputs=("mass_dry", "mass_ssd", "mass_submerged"),
    holds=lambda dry, ssd, submerged: (ssd >= dry) & (dry > submerged),
    limit="surface-dry >= dry > submerged",
    source="AASHTO T 166, by the meaning of the masses",
    mark=COMMON_PRACTICE,
    effect="withhold",
    remedy="compare the three masses with the balance print-out; correct the role or the mass, and export again",
)


def _absorbed(dry: pl.Expr, ssd: pl.Expr, submerged: pl.Expr) -> pl.Expr:
    return 100 * (ssd - dry) / (ssd - submerged)


ABSORPTION_LIMIT = Check(
    code="water_absorbed_above_limit",
    sentence="the specimen absorbs too much water for this method: use T 275 or T 331",
    inputs=("mass_dry", "mass_ssd", "mass_submerged"),
    holds=lambda dry, ssd, submerged: _absorbed(dry, ssd, submerged) <= 2.0,
    limit="water absorbed at most 2.0 % by volume",
    source="AASHTO T 166-16, scope; WAQTC FOP for AASHTO T 166",
)
BATH = Check(
    code="bath_temperature_off",
    sentence="the bath was not at its temperature",
    inputs=("water_temperature",),
    holds=lambda temperature: (temperature - 25).abs() <= 1,
    limit="25 ± 1 °C",
    source="AASHTO T 166:16(2020), 6.2",
)
_CHECKS = (MASS_ORDER, ABSORPTION_LIMIT, BATH)

GMB_SURFACE_DRY = Formula(
    property=GMB,
    grain=Grain.SPECIMEN,
    route="surface_dry",
    standard=STANDARD,
    section="method A",
    equation="Gmb = A / (B - C), with A dry in air, B surface-dry in air, C in water",
    inputs=("mass_dry", "mass_ssd", "mass_submerged"),
    expression=lambda dry, ssd, submerged: dry / (ssd - submerged),
    checks=_CHECKS,
    precision=Precision(
        "single operator s 0.008 (12.5 mm) or 0.013 (19 mm), d2s 0.023 or 0.037; multilaboratory s 0.015, d2s 0.042",
        FROM_MEMORY,
    ),
    method=Method.T166,
    material=Material.MIX,
)

ABSORBED = Formula(
    property=WATER_ABSORPTION,
    grain=Grain.SPECIMEN,
    route="surface_dry",
    standard=STANDARD,
    section="method A",
    equation="absorption = 100 (B - A) / (B - C), with A dry in air, B surface-dry in air, C in water",
    inputs=("mass_dry", "mass_ssd", "mass_submerged"),
    expression=_absorbed,
    checks=_CHECKS,
    method=Method.T166,
)

SPECIMENS_DIFFER = Check(
    code="specimens_differ",
    sentence="the specimens of the sample differ more than duplicates may",
    inputs=("range",),
    holds=lambda spread: spread <= 0.02 + 1e-9,
    limit="difference of Gmb at most 0.02",
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
