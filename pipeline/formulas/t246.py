"""AASHTO T 246, ASTM D1560: Hveem stabilometer value."""

from pipeline.formulas.conditions import near
from pipeline.formulas.load_tests import mean_of, quantity, specimen_check, temperature_check
from pipeline.formulas.model import FROM_MEMORY, Formula, Grain, Property, around
from schemas.vocabulary import Method

STANDARD = "AASHTO T 246, ASTM D1560"
#: Vertical pressure of 5,000 lb on a 4-inch specimen: 400 psi, in kPa.
VERTICAL = 2757.903

QUANTITIES = (
    quantity("horizontal_pressure", "Ph", "horizontal pressure at the vertical pressure Pv", "kPa", "Ph missing"),
    quantity("vertical_pressure", "Pv", "vertical pressure", "kPa"),
    quantity("displacement_turns", "D2", "turns of the pump from 5 to 100 psi", None, "turns of the pump missing"),
)
STABILOMETER = Property("stabilometer_value", "S", "Hveem stabilometer value", None, 0)

#: The chart that corrects S for height could not be sourced: a height off the standard one is flagged, never corrected.
HEIGHT = specimen_check(
    ("specimen_thickness",),
    near,
    "height {} mm (2.5 in.) within {} mm: for other heights S needs an agency's chart, and none is applied",
    STANDARD,
    around("mm", "t246_height", 64, 1),
)
VALUE = Formula(
    property=STABILOMETER,
    grain=Grain.SPECIMEN,
    route="stabilometer",
    standard=STANDARD,
    section=f"calculation ({FROM_MEMORY})",
    equation="S = 22.2 / (Ph D2 / (Pv - Ph) + 0.222), both pressures in one unit; Pv 400 psi",
    inputs=("horizontal_pressure", "displacement_turns", "vertical_pressure"),
    expression=lambda horizontal, turns, vertical: 22.2 / (horizontal * turns / (vertical - horizontal) + 0.222),
    defaults=(("vertical_pressure", VERTICAL),),
    checks=(HEIGHT, temperature_check("t246", 60, 3, STANDARD)),
    method=Method.T246,
)
OF_SAMPLE = mean_of(STABILOMETER, Method.T246, STANDARD, parameters=())
