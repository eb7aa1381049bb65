"""AASHTO T 308: binder content by ignition; and the order in which a sample's binder content is found."""

from pipeline.formulas.model import COMMON_PRACTICE, FROM_MEMORY, Check, Formula, Grain, Mean, Precision, Property
from schemas.vocabulary import Material, Method

STANDARD = "AASHTO T 308"

PB = Property("pb", "Pb", "binder content, of the mix by mass", "%", 2)

BURN_ORDER = Check(
    code="masses_out_of_order",
    sentence="the masses contradict each other",
    inputs=("mass_before_burn", "mass_after_burn"),
    holds=lambda before, after: (before > after) & (after > 0),
    limit="before ignition > after ignition > 0",
    source="AASHTO T 308, by the meaning of the masses",
    mark=COMMON_PRACTICE,
    effect="withhold",
    remedy="compare both masses with the furnace or balance print-out; correct the role or the mass, and export again",
)
IGNITION = Formula(
    property=PB,
    grain=Grain.SPECIMEN,
    route="ignition",
    standard=STANDARD,
    section="calculation",
    equation="Pb = 100 (Mi - Mf) / Mi - Cf - MC, with Mi before, Mf after ignition, Cf correction factor, MC moisture",
    inputs=("mass_before_burn", "mass_after_burn", "ignition_correction", "moisture"),
    expression=lambda before, after, correction, moisture: 100 * (before - after) / before - correction - moisture,
    defaults=(("moisture", 0.0),),
    checks=(BURN_ORDER,),
    precision=Precision("single operator s 0.069, d2s 0.196; multilaboratory s 0.117, d2s 0.330 (%)", FROM_MEMORY),
    method=Method.T308,
)
IGNITION_OF_SAMPLE = Mean(
    property=PB,
    grain=Grain.SAMPLE,
    of=PB,
    of_grain=Grain.SPECIMEN,
    method=Method.T308,
    route="ignition",
    standard=STANDARD,
)
BATCHED = Formula(
    property=PB,
    grain=Grain.SAMPLE,
    route="batched",
    standard="AASHTO R 35",
    section="laboratory-made mixture",
    equation="Pb = binder content the mixture was batched with",
    inputs=("pb_batched",),
    expression=lambda batched: batched * 1.0,
)
NOT_MEASURED = Check(
    code="binder_content_from_design",
    sentence="there is no binder content of the sample itself: the target of the mix design is used",
    inputs=("pb_target",),
    # Where this way is taken at all, the content was not measured.
    holds=lambda target: target.is_null(),
    limit="binder content measured or batched",
    source="AASHTO R 35, volumetrics at the binder content of the sample",
    mark=COMMON_PRACTICE,
    effect="stand_in",
)
FROM_DESIGN = Formula(
    property=PB,
    grain=Grain.SAMPLE,
    route="mix_design_target",
    standard="AASHTO R 35",
    section="mix design",
    equation="Pb = target binder content of the mix design",
    inputs=("pb_target",),
    expression=lambda target: target * 1.0,
    checks=(NOT_MEASURED,),
    # A target is no result: it stands in only where other results of the sample need a binder content.
    lead=("gmm", "gmb"),
    material=Material.MIX,
)

PS = Property("ps", "Ps", "aggregate content, of the mix by mass", "%", 2)
PS_FROM_PB = Formula(
    property=PS,
    grain=Grain.SAMPLE,
    route="from_pb",
    standard="AASHTO R 35",
    section="symbols",
    equation="Ps = 100 - Pb",
    inputs=("pb",),
    expression=lambda pb: 100 - pb,
)
PB_FROM_PS = Formula(
    property=PB,
    grain=Grain.SAMPLE,
    route="from_ps",
    standard="AASHTO R 35",
    section="symbols",
    equation="Pb = 100 - Ps",
    inputs=("ps",),
    expression=lambda ps: 100 - ps,
    by_hand_only=True,
)
