"""AASHTO T 269: air voids of compacted mixture."""

from pipeline.formulas.model import COMMON_PRACTICE, FROM_MEMORY, Check, Formula, Grain, Mean, Precision, Property
from schemas.vocabulary import Material, Method

STANDARD = "AASHTO T 269"

AIR_VOIDS = Property("air_voids", "Va", "air voids", "%", 1)

BELOW_MAXIMUM = Check(
    code="gmb_not_below_gmm",
    sentence="the specimen is denser than its own maximum: Gmb or Gmm is wrong",
    inputs=("gmb", "gmm"),
    holds=lambda gmb, gmm: gmb < gmm,
    limit="Gmb < Gmm",
    source="order of the gravities",
    mark=COMMON_PRACTICE,
)
VOIDS = Formula(
    property=AIR_VOIDS,
    grain=Grain.SPECIMEN,
    route="from_gravities",
    standard=STANDARD,
    section="dense mixtures",
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
