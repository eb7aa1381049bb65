"""AASHTO T 245 and T 247: density and voids after each blow or tamp, and what the compaction must keep."""

import math

from pipeline.formulas.conditions import near
from pipeline.formulas.load_tests import standard_of
from pipeline.formulas.model import (
    COMMON_PRACTICE,
    FROM_MEMORY,
    Bound,
    Check,
    Expression,
    Formula,
    Grain,
    Property,
    Quantity,
    around,
)
from pipeline.formulas.t312 import HEIGHTS_FALL
from schemas.vocabulary import STEPPED, Method

QUANTITIES = (
    Quantity("steps", "N", "blows on each face, or tamps in all", None, Grain.SPECIMEN),
    Quantity("step_height_final", "h final", "height after the last step", "mm", Grain.SPECIMEN),
    Quantity("step_rise", "Δh", "largest rise of the height from one step to the next", "mm", Grain.SPECIMEN),
    Quantity("hammer_mass", "M", "mass of the hammer", "g", Grain.SPECIMEN),
    Quantity("drop", "H", "height the hammer falls from", "mm", Grain.SPECIMEN),
    Quantity("step_mass", "W", "mass of the mixture in the mould", "g", Grain.SPECIMEN),
    Quantity("step_mould", "d", "inside diameter of the mould", "mm", Grain.SPECIMEN),
    Quantity("height_step", "h", "height after the step", "mm", Grain.SPECIMEN_STEP),
)

GMB_ESTIMATED = Property("gmb_estimated_step", "Gmb,est", "bulk specific gravity estimated after the step", None, 3)
GMB_CORRECTED = Property("gmb_corrected_step", "Gmb,corr", "bulk specific gravity after the step", None, 3)
RELATIVE = Property("relative_density_step", "%Gmm", "density after the step as a share of Gmm", "%", 1)
VOIDS = Property("air_voids_step", "Va", "air voids after the step", "%", 1)
COMPACTED = Property("compacted_height", "h", "height of the specimen after compaction", "mm", 1)


def _at_step(prop: Property, method: Method, equation: str, inputs: tuple[str, ...], expression: Expression) -> Formula:
    return Formula(
        property=prop,
        grain=Grain.SPECIMEN_STEP,
        route=f"from_heights_{method.value}",
        standard=standard_of(method),
        section=f"as for gyratory compaction ({COMMON_PRACTICE})",
        equation=equation,
        inputs=inputs,
        expression=expression,
        takes=(("gmb", "specimen_gmb"),) if "gmb" in inputs else (),
        method=method,
    )


AT_STEPS = tuple(
    formula
    for method in STEPPED
    for formula in (
        _at_step(
            GMB_ESTIMATED,
            method,
            "Gmb,est = W / (π d² h / 4 · 0.001), water at 1 g/cm³",
            ("step_mass", "step_mould", "height_step"),
            lambda mass, diameter, height: mass / (math.pi * diameter * diameter * height * 0.00025),
        ),
        _at_step(
            GMB_CORRECTED,
            method,
            "Gmb,corr = Gmb · h final / h",
            ("gmb", "step_height_final", "height_step"),
            lambda gmb, final, height: gmb * final / height,
        ),
        _at_step(
            RELATIVE,
            method,
            "%Gmm = 100 · Gmb · h final / (Gmm · h)",
            ("gmb", "gmm", "step_height_final", "height_step"),
            lambda gmb, gmm, final, height: 100 * gmb * final / (gmm * height),
        ),
        _at_step(
            VOIDS,
            method,
            "Va = 100 (1 - Gmb · h final / (Gmm · h))",
            ("gmb", "gmm", "step_height_final", "height_step"),
            lambda gmb, gmm, final, height: 100 * (1 - gmb * final / (gmm * height)),
        ),
    )
)


def _made(
    name: str,
    holds: Expression,
    limit: str,
    source: str,
    stated: tuple[Bound, ...] = (),
    mark: str | None = FROM_MEMORY,
) -> Check:
    return Check(
        code="compaction_off",
        sentence="the specimen was not compacted as the method asks for",
        inputs=(name,),
        holds=holds,
        limit=limit,
        source=source,
        mark=mark,
        bounds=stated,
    )


_T245 = standard_of(Method.T245)
FALLING = Check(
    code=HEIGHTS_FALL.code,
    sentence="the height rises from one gyration to the next",
    inputs=("step_rise",),
    holds=lambda rise: rise <= 1e-9,
    limit="the height never rises",
    source=f"{_T245}, by the meaning of the heights",
    mark=COMMON_PRACTICE,
)
IMPACT = (
    _made("step_height_final", near, "height {} ± {} mm", _T245, around("mm", "t245_height", 63.5, 1.3)),
    _made("hammer_mass", near, "hammer of {} ± {} g", _T245, around("g", "t245_hammer", 4536, 9)),
    _made("drop", near, "drop of {} ± {} mm", _T245, around("mm", "t245_drop", 457.2, 1.6)),
    _made(
        "step_mould",
        near,
        "mould of {} ± {} mm (4 in.)",
        _T245,
        around("mm", "t245_mould", 101.6, 0.2),
    ),
    _made(
        "steps",
        lambda blows: blows.is_in([35.0, 50.0, 75.0]),
        "35, 50 or 75 blows on each face",
        "Asphalt Institute MS-2, table 5.2",
        mark=None,
    ),
    FALLING,
)
KNEADING = (
    _made(
        "step_height_final",
        near,
        "height {} ± {} mm",
        standard_of(Method.T247),
        around("mm", "t247_height", 64, 3),
    ),
    FALLING,
)
HEIGHTS = tuple(
    Formula(
        property=COMPACTED,
        grain=Grain.SPECIMEN,
        route=f"last_step_{method.value}",
        standard=standard_of(method),
        section="compaction",
        equation="h = height after the last step",
        inputs=("step_height_final",),
        expression=lambda height: height * 1.0,
        lead=("steps",),
        checks=checks,
        method=method,
    )
    for method, checks in ((Method.T245, IMPACT), (Method.T247, KNEADING))
)
