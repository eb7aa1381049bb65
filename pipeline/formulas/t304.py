"""AASHTO T 304: uncompacted voids of fine aggregate."""

from dataclasses import replace

from pipeline.formulas.conditions import near
from pipeline.formulas.load_tests import TOO_FEW
from pipeline.formulas.minimum_mass import PORTION_OFF
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
    around,
)
from pipeline.formulas.t166 import MASS_ORDER
from pipeline.formulas.t209 import TEMPERATURE_KNOWN
from pipeline.formulas.water import density
from schemas.vocabulary import Method

STANDARD = "AASHTO T 304 (ASTM C1252)"
_CHOICES = ("uncompacted_voids_grading",)

MEASURE_VOLUME = Property("measure_volume", "V", "volume of the cylindrical measure", "cm³", 1)
VOLUME_OF_SAMPLE = Property(
    "measure_volume_of_sample",
    "V",
    "volume of the cylindrical measure, mean of the calibrations weighed with the sample",
    "cm³",
    1,
    missing="volume of the measure missing: no weighings with and without water",
)
FINE_MASS = Property("fine_mass", "F", "net mass of the fine aggregate in the measure", "g", 1)
UNCOMPACTED_VOIDS = Property("uncompacted_voids", "U", "uncompacted voids of the fine aggregate", "%", 1)


def _order(first: str, second: str, limit: str) -> Check:
    return Check(
        code=MASS_ORDER.code,
        sentence=MASS_ORDER.sentence,
        inputs=(first, second),
        holds=lambda empty, full: full > empty,
        limit=limit,
        source="AASHTO T 304, by the meaning of the masses",
        mark=COMMON_PRACTICE,
        effect="withhold",
        remedy="compare the two masses with the balance print-out; correct the role or the mass, and export again",
    )


VOLUME = Formula(
    property=MEASURE_VOLUME,
    grain=Grain.SPECIMEN,
    route="from_water",
    standard=STANDARD,
    section=f"calibration of the measure ({FROM_MEMORY})",
    equation="V = 1000 M / D, with M net mass of the water in g, D its density in kg/m³ at its temperature (Kell 1975)",
    inputs=("mass_measure_plate", "mass_measure_plate_water", "water_temperature"),
    expression=lambda empty, full, temperature: 1000 * (full - empty) / density(temperature),
    defaults=(("water_temperature", 23.0),),
    checks=(
        _order("mass_measure_plate", "mass_measure_plate_water", "filled with water > with plate alone"),
        replace(TEMPERATURE_KNOWN, sentence=TEMPERATURE_KNOWN.sentence, source="AASHTO T 304, calibration"),
    ),
    method=Method.T304,
)
VOLUME_MEAN = Mean(
    property=VOLUME_OF_SAMPLE,
    grain=Grain.SAMPLE,
    of=MEASURE_VOLUME,
    of_grain=Grain.SPECIMEN,
    method=Method.T304,
    standard=STANDARD,
)
NET = Formula(
    property=FINE_MASS,
    grain=Grain.SPECIMEN,
    route="from_masses",
    standard=STANDARD,
    section="procedure",
    equation="F = filled measure - empty measure",
    inputs=("mass_measure", "mass_measure_sample"),
    expression=lambda empty, full: full - empty,
    checks=(_order("mass_measure", "mass_measure_sample", "filled measure > empty measure"),),
    lead=("mass_measure_sample",),
    method=Method.T304,
)
VOLUME_NEAR = PORTION_OFF(
    inputs=("measure_volume",),
    holds=near,
    bounds=around("cm3", "t304_measure", 100, 5),
    limit="measure of about {} cm³ (39 x 86 mm), here within {} cm³",
    source="AASHTO T 304, apparatus; the bound is our own",
    mark=COMMON_PRACTICE,
)
VOIDS = Formula(
    property=UNCOMPACTED_VOIDS,
    grain=Grain.SPECIMEN,
    route="measured",
    standard=STANDARD,
    section="calculation",
    equation="U = 100 (V - F / Gsb) / V, with Gsb of the fine aggregate, dry",
    inputs=("measure_volume", "fine_mass", "gsb_fine"),
    takes=(("measure_volume", "measure_volume_of_sample"),),
    expression=lambda volume, mass, gravity: 100 * (volume - mass / gravity) / volume,
    checks=(VOLUME_NEAR,),
    precision=Precision("single operator s 0.13, d2s 0.37; multilaboratory s 0.33, d2s 0.93 (%)", FROM_MEMORY),
    lead=("fine_mass",),
    method=Method.T304,
    parameters=_CHOICES,
)
TWO_RUNS = replace(
    TOO_FEW,
    bounds=(Bound("t304_runs", 2),),
    limit="at least {} runs (three fractions for grading B)",
    source="WAQTC FOP for AASHTO T 304; ND T 304",
    mark=None,
)
OF_SAMPLE = Mean(
    property=UNCOMPACTED_VOIDS,
    grain=Grain.SAMPLE,
    of=UNCOMPACTED_VOIDS,
    of_grain=Grain.SPECIMEN,
    method=Method.T304,
    standard=STANDARD,
    checks=(TWO_RUNS,),
    parameters=_CHOICES,
)
