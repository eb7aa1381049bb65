"""AASHTO T 209: theoretical maximum specific gravity of loose mixture."""

from pipeline.formulas.model import COMMON_PRACTICE, FROM_MEMORY, Check, Formula, Grain, Mean, Precision, Property
from pipeline.formulas.water import ratio_to_25
from schemas.vocabulary import Material, Method

STANDARD = "AASHTO T 209"

GMM = Property(
    "gmm", "Gmm", "theoretical maximum specific gravity", None, 3, missing="Gmm missing: no T 209 result of this sample"
)
_FLASK = ("mass_dry", "mass_container_water", "mass_container_sample_water")
_BOWL = ("mass_dry", "mass_container_submerged", "mass_container_sample_submerged")
_REMEDY = "compare the masses with the balance print-out; correct the role or the mass, and export again"

FLASK_ORDER = Check(
    code="masses_out_of_order",
    sentence="the masses contradict each other",
    inputs=_FLASK,
    holds=lambda dry, water, sample: (dry > 0) & (sample > water) & (dry + water > sample),
    limit="container with water < container with sample and water < the former + dry sample",
    source="AASHTO T 209, by the meaning of the masses",
    mark=COMMON_PRACTICE,
    effect="withhold",
    remedy=_REMEDY,
)
BOWL_ORDER = Check(
    code="masses_out_of_order",
    sentence="the masses contradict each other",
    inputs=_BOWL,
    holds=lambda dry, empty, sample: (dry > 0) & (sample > empty) & (dry > sample - empty),
    limit="empty container < container with sample, both in water, and their difference < dry sample",
    source="AASHTO T 209, by the meaning of the masses",
    mark=COMMON_PRACTICE,
    effect="withhold",
    remedy=_REMEDY,
)
VACUUM = Check(
    code="residual_pressure_off",
    sentence="the vacuum was not within the limits of the method",
    inputs=("residual_pressure",),
    holds=lambda pressure: (pressure - 3.7).abs() <= 0.3 + 1e-9,
    limit="residual pressure 3.7 ± 0.3 kPa",
    source="AASHTO T 209; ASTM D2041: 4.0 kPa or less",
    mark=FROM_MEMORY,
)
VACUUM_TIME = Check(
    code="vacuum_time_off",
    sentence="the vacuum was not held for the time of the method",
    inputs=("vacuum_time",),
    holds=lambda minutes: (minutes - 15).abs() <= 2 + 1e-9,
    limit="15 ± 2 min under vacuum",
    source="ASTM D2041, first page; Florida asphalt plant level 1 study cards",
)
TEMPERATURE_KNOWN = Check(
    code="water_temperature_assumed",
    sentence="the temperature of the water was not recorded: 25 °C is assumed",
    inputs=("water_temperature",),
    holds=lambda temperature: temperature.is_not_null(),
    limit="temperature of the water recorded with the filled container",
    source="AASHTO T 209, correction by the density of water",
    mark=FROM_MEMORY,
)
BATH = Check(
    code="bath_temperature_off",
    sentence="the bath was not at its temperature",
    inputs=("water_temperature",),
    holds=lambda temperature: (temperature - 25).abs() <= 1,
    limit="25 ± 1 °C",
    source="AASHTO T 209, weighing in water",
    mark=FROM_MEMORY,
)
_PRECISION = Precision("single operator s 0.0051, d2s 0.014; multilaboratory s 0.0084, d2s 0.024", FROM_MEMORY)

GMM_FLASK = Formula(
    property=GMM,
    grain=Grain.SPECIMEN,
    route="flask",
    standard=STANDARD,
    section="weighing in air",
    equation="Gmm = A / (A + D - E) · R, with A dry sample, D container with water, E container with sample and water, "
    "R density of water at the temperature of E over that at 25 °C",
    inputs=(*_FLASK, "water_temperature"),
    expression=lambda dry, water, sample, temperature: dry / (dry + water - sample) * ratio_to_25(temperature),
    defaults=(("water_temperature", 25.0),),
    checks=(FLASK_ORDER, VACUUM, VACUUM_TIME, TEMPERATURE_KNOWN),
    precision=_PRECISION,
    method=Method.T209,
)
GMM_BOWL = Formula(
    property=GMM,
    grain=Grain.SPECIMEN,
    route="bowl",
    standard=STANDARD,
    section="weighing in water",
    equation="Gmm = A / (A - (C - B)), with A dry sample in air, B empty container, C container with sample in water",
    inputs=_BOWL,
    expression=lambda dry, empty, sample: dry / (dry - (sample - empty)),
    checks=(BOWL_ORDER, VACUUM, VACUUM_TIME, BATH),
    precision=_PRECISION,
    method=Method.T209,
)

PORTIONS_DIFFER = Check(
    code="portions_differ",
    sentence="the test portions differ more than their mean allows",
    inputs=("range",),
    holds=lambda spread: spread <= 0.014 + 1e-9,
    limit="difference of Gmm at most 0.014",
    source="WAQTC FOP for AASHTO T 209",
    mark=FROM_MEMORY,
)
GMM_OF_SAMPLE = Mean(
    property=GMM,
    grain=Grain.SAMPLE,
    of=GMM,
    of_grain=Grain.SPECIMEN,
    method=Method.T209,
    standard=STANDARD,
    checks=(PORTIONS_DIFFER,),
)

GMM_OF_LOT = Property(
    "gmm_lot",
    "Gmm of the lot",
    "mean maximum specific gravity of the lot",
    None,
    3,
    missing="Gmm of the lot missing: no loose-mix sample of the same project, mix and lot has a T 209 result",
)
LOT_MEAN = Mean(
    property=GMM_OF_LOT,
    grain=Grain.SAMPLE,
    of=GMM,
    of_grain=Grain.SAMPLE,
    route="mean_of_lot",
    standard=STANDARD,
    over=("project_id", "mix_id", "lot"),
    material=Material.CORE,
    of_material=Material.MIX,
)

GMM_AT_OTHER_PB = Formula(
    property=GMM,
    grain=Grain.SAMPLE,
    route="from_gse",
    standard="AASHTO R 35",
    section="maximum specific gravity at other binder contents",
    equation="Gmm = 100 / (Ps / Gse + Pb / Gb)",
    inputs=("gse", "pb", "gb"),
    expression=lambda gse, pb, gb: 100 / ((100 - pb) / gse + pb / gb),
    by_hand_only=True,
)
