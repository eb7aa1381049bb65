"""ASTM D8225: cracking tolerance index of a whole cylinder."""

from pipeline.formulas import load_trace
from pipeline.formulas.conditions import at_least, near
from pipeline.formulas.load_tests import (
    CUT_SHORT,
    PEAK,
    WORK_END,
    WORK_OF_FAILURE,
    WORK_TO_END,
    curve,
    mean_of,
    quantity,
    rate_check,
    specimen_check,
    temperature_check,
    trace_formula,
    voids_check,
    works_of,
)
from pipeline.formulas.model import (
    COMMON_PRACTICE,
    FROM_MEMORY,
    Check,
    Formula,
    Grain,
    Precision,
    Property,
    around,
    bounds,
)
from schemas.vocabulary import Material, Method

STANDARD = "ASTM D8225"

POINTS = tuple(
    quantity(f"{figure}_{share}", f"{symbol}{share}", title.format(share), unit, "no trace of the load")
    for figure, symbol, title, unit in (
        ("displacement", "l", "displacement at {} % of the peak load, after it", "mm"),
        ("load", "P", "load at {} % of the peak load, after it", "N"),
    )
    for share in load_trace.SHARES
)
CROSSINGS = quantity("crossings", "crossings", "times the load falls through a share of its peak", None)

FRACTURE_ENERGY = Property("fracture_energy", "Gf", "fracture energy", "J/m²", 0)
SLOPE = Property("post_peak_slope", "|m75|", "slope after the peak, around 75 % of it", "kN/mm", 3)
CT_INDEX = Property("ct_index", "CT index", "cracking tolerance index", None, 0)

CROSSES_AGAIN = Check(
    code="load_crosses_again",
    sentence="the load rises and falls again through 85, 75 or 65 % of its peak: the first crossing counts",
    inputs=("crossings",),
    holds=lambda count: count <= 1,
    limit="each share of the peak crossed once after it",
    source="ASTM D8225, points after the peak",
    mark=COMMON_PRACTICE,
)
_LABORATORY = specimen_check(
    ("specimen_thickness",),
    near,
    "thickness {} ± {} mm, specimens made in the laboratory",
    STANDARD,
    around("mm", "d8225_thickness", 62, 1),
)
_DIAMETER = specimen_check(
    ("specimen_diameter",),
    lambda found, target, tolerance: near(found, target, tolerance) | near(found, 152.4, 0.5),
    "diameter {} ± {} mm, or a 6-inch mould (152.4 mm)",
    STANDARD,
    around("mm", "d8225_diameter", 150, 2),
)
_CORE = specimen_check(
    ("specimen_thickness",),
    at_least,
    "thickness of a core at least {} mm",
    STANDARD,
    bounds("mm", d8225_core_thickness=38),
)
_LOADING = (*rate_check("d8225", 50, 2, STANDARD), temperature_check("d8225", 25, 1, STANDARD))

AFTER_PEAK = curve(
    "points after the peak",
    Method.D8225,
    (*POINTS, CROSSINGS),
    load_trace.after_peak,
    "first fall of the load through 85, 75 and 65 % of its peak, interpolated between the readings around it",
    STANDARD,
)
WORKS = works_of(Method.D8225, STANDARD)
WORK = trace_formula(
    WORK_OF_FAILURE, Method.D8225, WORK_TO_END.name, "Wf = ∫ P dl to the end load", (CUT_SHORT,), WORK_END
)
ENERGY = Formula(
    property=FRACTURE_ENERGY,
    grain=Grain.SPECIMEN,
    route="whole_cylinder",
    standard=STANDARD,
    section=f"calculation ({FROM_MEMORY})",
    equation="Gf = 10⁶ Wf / (D t), with Wf in J, D and t in mm",
    inputs=("work_of_failure", "specimen_diameter", "specimen_thickness"),
    expression=lambda work, diameter, thickness: 1e6 * work / (diameter * thickness),
    method=Method.D8225,
    parameters=(PEAK, WORK_END),
)
AROUND_75 = Formula(
    property=SLOPE,
    grain=Grain.SPECIMEN,
    route="between_85_and_65",
    standard=STANDARD,
    section=f"calculation ({FROM_MEMORY})",
    equation="|m75| = |(P85 - P65) / (l85 - l65)| / 1000, loads in N after the peak",
    inputs=("load_85", "load_65", "displacement_85", "displacement_65"),
    expression=lambda load1, load2, way1, way2: ((load1 - load2) / (way1 - way2)).abs() * 0.001,
    lead=("readings",),
    checks=(CROSSES_AGAIN,),
    method=Method.D8225,
    parameters=(PEAK,),
)


#: The only figures on scatter that were found; four lanes of five specimens each, at two ages.
_SCATTER = Precision(
    "CV of 5 specimens 7.7 to 31.3 % (short-term aged) and 17.5 to 28.1 % (long-term aged), eight groups of the FHWA "
    "open data set on polymer-modified mixtures"
)


def _index(route: str, material: Material, *checks: Check) -> Formula:
    return Formula(
        property=CT_INDEX,
        grain=Grain.SPECIMEN,
        route=route,
        standard=STANDARD,
        section=f"calculation ({FROM_MEMORY}; proven on published tests)",
        equation="CT = (t / 62) (l75 / D) (Gf / |m75|), with Gf in J/m², |m75| in kN/mm, mm",
        inputs=("specimen_thickness", "displacement_75", "specimen_diameter", "fracture_energy", "post_peak_slope"),
        expression=lambda thickness, way, diameter, energy, slope: (
            thickness * (1 / 62) * way / diameter * energy / slope
        ),
        lead=("readings",),
        checks=(*checks, _DIAMETER, voids_check("d8225", STANDARD), *_LOADING),
        precision=_SCATTER,
        method=Method.D8225,
        material=material,
        parameters=(PEAK, WORK_END),
    )


INDICES = (_index("laboratory_specimen", Material.MIX, _LABORATORY), _index("core", Material.CORE, _CORE))
MEANS = (
    mean_of(CT_INDEX, Method.D8225, STANDARD, parameters=(PEAK, WORK_END)),
    mean_of(FRACTURE_ENERGY, Method.D8225, STANDARD, parameters=(PEAK, WORK_END)),
    mean_of(SLOPE, Method.D8225, STANDARD),
)
