"""Cores: density in the pavement against the maximum density of the lot."""

from dataclasses import replace

from pipeline.formulas.model import COMMON_PRACTICE, Formula, Grain, Mean, Property
from pipeline.formulas.t166 import GMB_SURFACE_DRY
from pipeline.formulas.t269 import BELOW_MAXIMUM
from schemas.vocabulary import Material, Method

CORE_GMB = Property("core_gmb", "Gmb of the core", "bulk specific gravity of the core", None, 3)
RELATIVE_COMPACTION = Property(
    "relative_compaction", "%Gmm in place", "density of the core as a share of Gmm of the lot", "%", 1
)
CORE_AIR_VOIDS = Property("core_air_voids", "Va in place", "air voids of the core", "%", 1)

_TAKES = (("gmb", "core_gmb"), ("gmm", "gmm_lot"))
_SOURCE = f"share of Gmm of the lot ({COMMON_PRACTICE})"

#: The same weighing and equation as a gyratory specimen, under a name of its own: the two must never mix.
GMB_OF_CORE = replace(GMB_SURFACE_DRY, property=CORE_GMB, route="core_surface_dry", material=Material.CORE)

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
)
