"""AASHTO T 209: theoretical maximum specific gravity of loose mixture."""

from dataclasses import replace

import polars as pl

from pipeline.formulas.circumstances import BALANCE, CONTAINER, SAMPLE_MASS, SHAKER, USUAL_MAXIMUM, VACUUM_TIME
from pipeline.formulas.conditions import at_most, near
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
    inputs=("residual_pressure", "vacuum_low", "vacuum_high"),
    # By hand there are no settings: the limits as shipped.
    holds=lambda pressure, low, high: (
        (pressure >= low.fill_null(3.4) - 1e-9) & (pressure <= high.fill_null(4.0) + 1e-9)
    ),
    limit="residual pressure 3.7 ± 0.3 kPa, or as the settings say",
    source="AASHTO T 209; ASTM D2041: 4.0 kPa or less",
    mark=FROM_MEMORY,
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
    holds=near,
    bounds=around("c", "t209_bath", 25, 1),
    limit="{} ± {} °C",
    source="AASHTO T 209, weighing in water",
    mark=FROM_MEMORY,
)
SURFACE_DRIED = Check(
    code="masses_out_of_order",
    sentence="the masses contradict each other",
    inputs=("mass_dry", "mass_ssd"),
    holds=lambda dry, surface_dry: surface_dry >= dry,
    limit="sample dried to a dry surface after the vacuum >= dry sample",
    source="AASHTO T 209, dry-back, by the meaning of the masses",
    mark=COMMON_PRACTICE,
    effect="withhold",
    remedy=_REMEDY,
)
_TEST = (VACUUM, VACUUM_TIME, SHAKER, CONTAINER, SAMPLE_MASS, BALANCE, USUAL_MAXIMUM)
_PRECISION = Precision(
    "single operator s 0.0051, d2s 0.014; multilaboratory s 0.0084, d2s 0.024; "
    "older: single operator s 0.0040, d2s 0.011; multilaboratory s 0.0064, d2s 0.019",
    FROM_MEMORY,
)
_DRY_BACK_PRECISION = Precision(
    "with dry-back: single operator s 0.0064, d2s 0.018; multilaboratory s 0.0193, d2s 0.055", FROM_MEMORY
)
_CORRECTED = pl.col("flask_water") == "by_temperature"

_flask = Formula(
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
    applies=_CORRECTED,
    checks=(FLASK_ORDER, TEMPERATURE_KNOWN, *_TEST),
    precision=_PRECISION,
    method=Method.T209,
    parameters=("flask_water", "gmm_mass_table", "vacuum_low_kpa", "vacuum_high_kpa"),
)
_flask_fixed = replace(
    _flask,
    route="flask_at_25",
    equation="Gmm = A / (A + D - E), with A dry sample, D container with water, E container with sample and water, "
    "both at 25 °C",
    inputs=_FLASK,
    expression=lambda dry, water, sample: dry / (dry + water - sample),
    defaults=(),
    applies=~_CORRECTED,
    checks=(FLASK_ORDER, BATH, *_TEST),
)
_bowl = Formula(
    property=GMM,
    grain=Grain.SPECIMEN,
    route="bowl",
    standard=STANDARD,
    section="weighing in water",
    equation="Gmm = A / (A - (C - B)), with A dry sample in air, B empty container, C container with sample in water",
    inputs=_BOWL,
    expression=lambda dry, empty, sample: dry / (dry - (sample - empty)),
    checks=(BOWL_ORDER, BATH, *_TEST),
    precision=_PRECISION,
    method=Method.T209,
    parameters=("gmm_mass_table", "vacuum_low_kpa", "vacuum_high_kpa"),
)

_DRIED_BACK = "dry-back (15, number from memory)"
_LEAD = ("mass_ssd",)
_flask_dry_back = replace(
    _flask,
    route="flask_dry_back",
    section=_DRIED_BACK,
    equation="Gmm = A / (A_SD + D - E) · R, with A dry sample, A_SD the same dried to a dry surface after the vacuum, "
    "D container with water, E container with sample and water, R as without dry-back",
    inputs=("mass_dry", "mass_ssd", "mass_container_water", "mass_container_sample_water", "water_temperature"),
    expression=lambda dry, surface, water, sample, temperature: (
        dry / (surface + water - sample) * ratio_to_25(temperature)
    ),
    lead=_LEAD,
    checks=(FLASK_ORDER, SURFACE_DRIED, TEMPERATURE_KNOWN, *_TEST),
    precision=_DRY_BACK_PRECISION,
)
_flask_fixed_dry_back = replace(
    _flask_fixed,
    route="flask_at_25_dry_back",
    section=_DRIED_BACK,
    equation="Gmm = A / (A_SD + D - E), with A dry sample, A_SD the sample dried to a dry surface after the vacuum, "
    "D container with water, E container with sample and water, both at 25 °C",
    inputs=("mass_dry", "mass_ssd", "mass_container_water", "mass_container_sample_water"),
    expression=lambda dry, surface, water, sample: dry / (surface + water - sample),
    lead=_LEAD,
    checks=(FLASK_ORDER, SURFACE_DRIED, BATH, *_TEST),
    precision=_DRY_BACK_PRECISION,
)
_bowl_dry_back = replace(
    _bowl,
    route="bowl_dry_back",
    section=_DRIED_BACK,
    equation="Gmm = A / (A_SD - (C - B)), with A dry sample, A_SD the sample dried to a dry surface after the vacuum, "
    "B empty container, C container with sample in water",
    inputs=("mass_dry", "mass_ssd", "mass_container_submerged", "mass_container_sample_submerged"),
    expression=lambda dry, surface, empty, sample: dry / (surface - (sample - empty)),
    lead=_LEAD,
    checks=(BOWL_ORDER, SURFACE_DRIED, BATH, *_TEST),
    precision=_DRY_BACK_PRECISION,
)
#: Dry-back first: it is due only where its own mass is on record, and then it is the result.
GMM_WAYS = (_flask_dry_back, _flask_fixed_dry_back, _bowl_dry_back, _flask, _flask_fixed, _bowl)

PORTIONS_DIFFER = Check(
    code="portions_differ",
    sentence="the test portions differ more than their mean allows",
    inputs=("range",),
    holds=at_most,
    bounds=(Bound("t209_difference", 0.014),),
    limit="difference of Gmm at most {}",
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
