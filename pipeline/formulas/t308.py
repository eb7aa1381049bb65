"""AASHTO T 308: binder content by ignition; and the order in which a sample's binder content is found."""

import polars as pl

from pipeline.formulas.conditions import at_least, at_most, near
from pipeline.formulas.minimum_mass import least_up_to, rungs, told
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
    Quantity,
    bounds,
)
from schemas.vocabulary import BurnPurpose, Material, Method

STANDARD = "AASHTO T 308"

PB = Property("pb", "Pb", "binder content, of the mix by mass", "%", 2)
#: Setting that says which way to a sample's binder content is tried first, where it has several.
FIRST = "binder_content_from"

_HERE = (Grain.SPECIMEN, Method.T308)
BURN = (
    Quantity("burn_purpose", "purpose", "what the mixture was burnt for", None, *_HERE, kind="text"),
    Quantity("burn_repeated", "repeated", "whether it was repeated at a lower temperature", None, *_HERE, kind="text"),
    Quantity(
        "pb_known", "Pb known", "binder content a calibration mixture was made with", "%", *_HERE, "Pb known missing"
    ),
    Quantity("furnace_set", "T furnace", "set point of the furnace", "°C", *_HERE),
    Quantity("end_change", "Δm end", "change of mass in the last minute, of the mass of the mixture", "%", *_HERE),
    Quantity("nominal_size", "NMAS", "nominal maximum size of the aggregate", "mm", Grain.SAMPLE),
)

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


def _mass_check(inputs: tuple[str, ...]) -> Check:
    count = len(inputs)
    return Check(
        code="test_portion_too_small",
        sentence="the test portion is smaller than the method asks for",
        inputs=(*inputs, "nominal_size"),
        holds=lambda *found: (
            (found[0] if count == 1 else found[0] - found[1]) >= least_up_to(found[count], "t308", found[count + 1 :])
        ),
        bounds=rungs("t308"),
        limit=f"at least, up to a nominal size of {told('t308')}",
        source="Florida asphalt plant level 1 study cards (12.5 and 19 mm); AASHTO T 308, table of masses",
        mark=FROM_MEMORY,
    )


FURNACE = Check(
    code="furnace_temperature_off",
    sentence="the furnace was not set to a temperature of the method",
    inputs=("furnace_set",),
    holds=lambda found, usual, lower, tolerance: near(found, usual, tolerance) | near(found, lower, tolerance),
    bounds=bounds("c", t308_furnace=538, t308_furnace_lower=482, t308_furnace_tolerance=5),
    limit="{0} ± {2} °C, or {1} ± {2} °C where the correction factor exceeds 1.0 %",
    source="Florida asphalt plant level 1 study cards; AASHTO T 308",
    mark=FROM_MEMORY,
)
END_POINT = Check(
    code="end_point_not_reached",
    sentence="the mass was still changing when the burn ended",
    inputs=("end_change",),
    holds=at_most,
    bounds=bounds("pct", t308_end_change=0.01),
    limit="change of mass at most {} % of the mixture in a minute",
    source=STANDARD,
    mark=FROM_MEMORY,
)
_DIRECT = ("mass_before_burn", "mass_after_burn")
_BASKET = ("mass_basket", "mass_basket_before_burn", "mass_basket_after_burn")
BASKET_ORDER = Check(
    code=BURN_ORDER.code,
    sentence=BURN_ORDER.sentence,
    inputs=_BASKET,
    holds=lambda basket, before, after: (before > after) & (after > basket),
    limit="basket with mixture > basket after ignition > empty basket",
    source=BURN_ORDER.source,
    mark=COMMON_PRACTICE,
    effect="withhold",
    remedy=BURN_ORDER.remedy,
)
_PRECISION = Precision("single operator s 0.069, d2s 0.196; multilaboratory s 0.117, d2s 0.330 (%)", FROM_MEMORY)
_BURNT = (FURNACE, END_POINT)


def _direct(before: pl.Expr, after: pl.Expr) -> pl.Expr:
    return 100 * (before - after) / before


def _in_basket(basket: pl.Expr, before: pl.Expr, after: pl.Expr) -> pl.Expr:
    return 100 * (before - after) / (before - basket)


IGNITION = Formula(
    property=PB,
    grain=Grain.SPECIMEN,
    route="ignition",
    standard=STANDARD,
    section="calculation",
    equation="Pb = 100 (Mi - Mf) / Mi - Cf - MC, with Mi before, Mf after ignition, Cf correction factor, MC moisture",
    inputs=(*_DIRECT, "ignition_correction", "moisture"),
    expression=lambda before, after, correction, moisture: _direct(before, after) - correction - moisture,
    defaults=(("moisture", 0.0),),
    applies=pl.col("burn_purpose").ne_missing(BurnPurpose.CALIBRATION.value),
    checks=(BURN_ORDER, _mass_check(("mass_before_burn",)), *_BURNT),
    precision=_PRECISION,
    method=Method.T308,
)
IGNITION_IN_BASKET = Formula(
    property=PB,
    grain=Grain.SPECIMEN,
    route="ignition_in_basket",
    standard=STANDARD,
    section="calculation",
    equation="Pb = 100 (Bi - Bf) / (Bi - B) - Cf - MC, with B empty basket, Bi and Bf with mixture before and after "
    "ignition, Cf correction factor, MC moisture",
    inputs=(*_BASKET, "ignition_correction", "moisture"),
    expression=lambda basket, before, after, correction, moisture: (
        _in_basket(basket, before, after) - correction - moisture
    ),
    defaults=(("moisture", 0.0),),
    applies=IGNITION.applies,
    lead=("mass_basket_before_burn",),
    checks=(BASKET_ORDER, _mass_check(("mass_basket_before_burn", "mass_basket")), *_BURNT),
    precision=_PRECISION,
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
    parameters=(FIRST,),
    first_by=FIRST,
)

LOSS = Property("ignition_loss", "M loss", "loss of mass at ignition, of the mixture", "%", 2)
DIFFERENCE = Property("calibration_difference", "ΔPb", "loss of a calibration mixture less its binder content", "%", 2)
CORRECTION = Property("ignition_correction_found", "Cf found", "correction factor found by calibration", "%", 2)
LOSSES = (
    Formula(
        property=LOSS,
        grain=Grain.SPECIMEN,
        route="masses",
        standard=STANDARD,
        section="calculation",
        equation="M loss = 100 (Mi - Mf) / Mi",
        inputs=_DIRECT,
        expression=_direct,
        checks=(BURN_ORDER, *_BURNT),
        method=Method.T308,
    ),
    Formula(
        property=LOSS,
        grain=Grain.SPECIMEN,
        route="basket",
        standard=STANDARD,
        section="calculation",
        equation="M loss = 100 (Bi - Bf) / (Bi - B)",
        inputs=_BASKET,
        expression=_in_basket,
        lead=("mass_basket_before_burn",),
        checks=(BASKET_ORDER, *_BURNT),
        method=Method.T308,
    ),
)
OF_CALIBRATION = Formula(
    property=DIFFERENCE,
    grain=Grain.SPECIMEN,
    route="calibration",
    standard=STANDARD,
    section=f"annex, correction factor ({FROM_MEMORY})",
    equation="ΔPb = M loss - Pb known",
    inputs=("ignition_loss", "pb_known"),
    expression=lambda loss, known: loss - known,
    # What was repeated at a lower temperature no longer counts.
    applies=(pl.col("burn_purpose") == BurnPurpose.CALIBRATION.value) & (pl.col("burn_repeated") == False),  # noqa: E712
    method=Method.T308,
)
TWO_AGREE = Check(
    code="calibration_samples_differ",
    sentence="the calibration samples differ too much: run two more, and drop the highest and the lowest",
    inputs=("range",),
    holds=at_most,
    bounds=bounds("pct", t308_calibration_difference=0.15),
    limit="two samples within {} %",
    source="AASHTO T 308, annex A2",
    mark=FROM_MEMORY,
)
ENOUGH = Check(
    code="too_few_calibration_samples",
    sentence="the correction factor rests on one calibration sample",
    inputs=("n",),
    holds=at_least,
    bounds=(Bound("t308_calibration_samples", 2),),
    limit="at least {} calibration samples",
    source="AASHTO T 308, annex A2",
    mark=FROM_MEMORY,
)
DIFFERENCE_OF_SAMPLE = Mean(
    property=DIFFERENCE,
    grain=Grain.SAMPLE,
    of=DIFFERENCE,
    of_grain=Grain.SPECIMEN,
    method=Method.T308,
    standard=STANDARD,
    section=f"annex, correction factor ({FROM_MEMORY})",
    checks=(TWO_AGREE, ENOUGH),
    trimmed_from=4,
)
COOLER = Check(
    code="correction_factor_large",
    sentence="the correction factor is so large that the calibration is repeated at a lower temperature",
    inputs=("calibration_difference",),
    holds=lambda found, most: near(found, 0, most),
    bounds=bounds("pct", t308_correction=1),
    limit="correction factor at most {} %, or found at 482 ± 5 °C",
    source="AASHTO T 308, annex A2",
    mark=FROM_MEMORY,
)
FOUND = Formula(
    property=CORRECTION,
    grain=Grain.SAMPLE,
    route="calibration",
    standard=STANDARD,
    section=f"annex, correction factor ({FROM_MEMORY})",
    equation="Cf found = mean of ΔPb; it is registered with the mix design before it corrects results",
    inputs=("calibration_difference",),
    expression=lambda found: found * 1.0,
    checks=(COOLER,),
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
    parameters=(FIRST,),
    first_by=FIRST,
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
