"""AASHTO T 164, ASTM D2172: binder content by solvent extraction."""

from pipeline.formulas.model import COMMON_PRACTICE, FROM_MEMORY, Check, Formula, Grain, Mean, Precision
from pipeline.formulas.t308 import BURN_ORDER, FIRST, PB
from schemas.vocabulary import Method

STANDARD = "AASHTO T 164, ASTM D2172"
_MASSES = ("mass_before_extraction", "mass_water_in_portion", "mass_extracted", "mass_mineral_matter")

ORDER = Check(
    code=BURN_ORDER.code,
    sentence=BURN_ORDER.sentence,
    inputs=_MASSES,
    holds=lambda before, water, extracted, mineral: (before - water > extracted + mineral) & (extracted > 0),
    limit="mixture less its water > extracted aggregate and mineral matter > 0",
    source="AASHTO T 164, by the meaning of the masses",
    mark=COMMON_PRACTICE,
    effect="withhold",
    remedy="compare the masses with the balance print-out; correct the role or the mass, and export again",
)
EXTRACTION = Formula(
    property=PB,
    grain=Grain.SPECIMEN,
    route="extraction",
    standard=STANDARD,
    section=f"calculation (equation {FROM_MEMORY}; definition of W3 seen in ASTM D2172-17, 9.2)",
    equation="Pb = 100 [(W1 - W2) - (W3 + W4)] / (W1 - W2), with W1 mixture, W2 water in it, W3 extracted aggregate "
    "with the gain of the filter, W4 mineral matter in the extract",
    inputs=_MASSES,
    expression=lambda before, water, extracted, mineral: (
        100 * ((before - water) - (extracted + mineral)) / (before - water)
    ),
    defaults=(("mass_water_in_portion", 0.0),),
    checks=(ORDER,),
    precision=Precision("single operator s 0.19, d2s 0.54; multilaboratory s 0.22, d2s 0.61 (%)", FROM_MEMORY),
    method=Method.T164,
)
OF_SAMPLE = Mean(
    property=PB,
    grain=Grain.SAMPLE,
    of=PB,
    of_grain=Grain.SPECIMEN,
    method=Method.T164,
    route="extraction",
    standard=STANDARD,
    parameters=(FIRST,),
    first_by=FIRST,
)
