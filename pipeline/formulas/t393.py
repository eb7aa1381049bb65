"""AASHTO T 393: flexibility index of a notched half disc."""

from pipeline.formulas import load_trace
from pipeline.formulas.conditions import near
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
    works_of,
)
from pipeline.formulas.model import FROM_MEMORY, Formula, Grain, Property, around
from schemas.vocabulary import Method

STANDARD = "AASHTO T 393"
_FIT = ("inflection_fit_to_pct", "inflection_fit_degree")

NOTCH = quantity("notch", "a", "depth of the notch", "mm", "depth of the notch missing")
SLOPE_INFLECTION = quantity(
    "slope_inflection", "m", "slope at the inflection after the peak", "N/mm", "no trace of the load"
)

ENERGY_NOTCHED = Property("fracture_energy_notched", "Gf", "fracture energy of the ligament", "J/m²", 0)
SLOPE = Property("inflection_slope", "|m|", "slope at the inflection after the peak", "kN/mm", 2)
FLEXIBILITY = Property("flexibility_index", "FI", "flexibility index", None, 1)

INFLECTIONS = curve(
    "inflection",
    Method.T393,
    (SLOPE_INFLECTION,),
    load_trace.inflections,
    "polynomial fitted by least squares to the branch after the peak, down to a set share of the peak load; the "
    "steepest place inside the fitted range",
    STANDARD,
    _FIT,
)
WORKS = works_of(Method.T393, STANDARD)
WORK = trace_formula(
    WORK_OF_FAILURE, Method.T393, WORK_TO_END.name, "Wf = ∫ P du to the end load", (CUT_SHORT,), WORK_END
)
ENERGY = Formula(
    property=ENERGY_NOTCHED,
    grain=Grain.SPECIMEN,
    route="half_disc",
    standard=STANDARD,
    section=f"calculation ({FROM_MEMORY})",
    equation="Gf = 10⁶ Wf / ((D / 2 - a) t), with Wf in J, D, a and t in mm",
    inputs=("work_of_failure", "specimen_diameter", "notch", "specimen_thickness"),
    expression=lambda work, diameter, notch, thickness: 1e6 * work / ((diameter / 2 - notch) * thickness),
    method=Method.T393,
    parameters=(PEAK, WORK_END),
)
STEEPEST = Formula(
    property=SLOPE,
    grain=Grain.SPECIMEN,
    route="inflection",
    standard=STANDARD,
    section=f"calculation ({FROM_MEMORY})",
    equation="|m| = slope at the inflection of the curve fitted after the peak, in N/mm / 1000",
    inputs=("slope_inflection",),
    expression=lambda slope: slope * 0.001,
    lead=("readings",),
    method=Method.T393,
    parameters=(PEAK, *_FIT),
)
INDEX = Formula(
    property=FLEXIBILITY,
    grain=Grain.SPECIMEN,
    route="half_disc",
    standard=STANDARD,
    section=f"calculation ({FROM_MEMORY})",
    equation="FI = 0.01 Gf / |m|, with Gf in J/m², |m| in kN/mm",
    inputs=("fracture_energy_notched", "inflection_slope"),
    expression=lambda energy, slope: 0.01 * energy / slope,
    checks=(
        specimen_check(
            ("specimen_thickness",),
            near,
            "thickness {} ± {} mm",
            STANDARD,
            around("mm", "t393_thickness", 50, 1),
        ),
        specimen_check(("notch",), near, "notch {} ± {} mm", STANDARD, around("mm", "t393_notch", 15, 1)),
        *rate_check("t393", 50, 2, STANDARD),
        temperature_check("t393", 25, 0.5, STANDARD),
    ),
    method=Method.T393,
    parameters=(PEAK, WORK_END, *_FIT),
)
MEANS = (
    mean_of(FLEXIBILITY, Method.T393, STANDARD, parameters=(PEAK, WORK_END, *_FIT)),
    mean_of(ENERGY_NOTCHED, Method.T393, STANDARD, parameters=(PEAK, WORK_END)),
)
