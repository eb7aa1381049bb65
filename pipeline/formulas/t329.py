"""AASHTO T 329: moisture of the mixture by oven, on the dry mass."""

import polars as pl

from pipeline.formulas.conditions import at_least, at_most
from pipeline.formulas.model import (
    COMMON_PRACTICE,
    FROM_MEMORY,
    Check,
    Formula,
    Grain,
    Mean,
    Property,
    Quantity,
    around,
    bounds,
)
from pipeline.formulas.t308 import BURN_ORDER
from schemas.vocabulary import Method

STANDARD = "AASHTO T 329"
_HERE = (Grain.SPECIMEN, Method.T329)

DRYING = (
    Quantity("mass_oven_container_dried", "Md", "container with the sample at the last weighing", "g", *_HERE),
    Quantity("mass_oven_container_dried_before", "Mp", "container with the sample at the last but one", "g", *_HERE),
    Quantity("drying_first", "t1", "time in the oven at the first weighing", "min", *_HERE),
    Quantity("oven_coolest", "T min", "lowest temperature of the oven", "°C", *_HERE),
    Quantity("oven_hottest", "T max", "highest temperature of the oven", "°C", *_HERE),
)
_MASSES = ("mass_oven_container_moist", "mass_oven_container_dried", "mass_oven_container")
_SERIES = ("mass_oven_container_dried_before", "mass_oven_container_dried", "mass_oven_container")

MOISTURE = Property("moisture", "MC", "moisture of the mixture, of its dry mass", "%", 2)
DRYING_CHANGE = Property("drying_change", "Δm", "change of mass between the last two weighings", "%", 2)

ORDER = Check(
    code=BURN_ORDER.code,
    sentence=BURN_ORDER.sentence,
    inputs=_MASSES,
    holds=lambda moist, dried, container: (moist >= dried) & (dried > container),
    limit="container with moist sample >= with dried sample > empty container",
    source="AASHTO T 329, by the meaning of the masses",
    mark=COMMON_PRACTICE,
    effect="withhold",
    remedy="compare the masses with the balance print-out; correct the role or the mass, and export again",
)


def _change(before: pl.Expr, last: pl.Expr, container: pl.Expr) -> pl.Expr:
    return 100 * (before - last) / (before - container)


CONSTANT = Check(
    code="mass_not_constant",
    sentence="the mass was still changing: the sample was not dry",
    inputs=_SERIES,
    holds=lambda before, last, container, change: _change(before, last, container).abs() < change,
    bounds=bounds("pct", t329_change=0.05),
    limit="change below {} % between the last two weighings, 30 min apart",
    source=STANDARD,
    mark=FROM_MEMORY,
)
TWO_WEIGHINGS = Check(
    code=CONSTANT.code,
    sentence=CONSTANT.sentence,
    inputs=("mass_oven_container_dried_before",),
    holds=lambda before: before.is_not_null(),
    limit="two weighings at least: constant mass cannot be told from one",
    source=STANDARD,
    mark=FROM_MEMORY,
)
OVEN = Check(
    code="oven_temperature_off",
    sentence="the oven was not at the temperature of the method",
    inputs=("oven_coolest", "oven_hottest"),
    holds=lambda low, high, target, tolerance: at_least(low - target, -tolerance) & at_most(high - target, tolerance),
    bounds=around("c", "t329_oven", 163, 14),
    limit="{} ± {} °C",
    source=STANDARD,
    mark=FROM_MEMORY,
)
FIRST_PERIOD = Check(
    code="drying_too_short",
    sentence="the first weighing came too early",
    inputs=("drying_first",),
    holds=at_least,
    bounds=bounds("min", t329_first_drying=90),
    limit="{} min in the oven before the first weighing",
    source=STANDARD,
    mark=FROM_MEMORY,
)
_CHECKS = (ORDER, CONSTANT, TWO_WEIGHINGS, OVEN, FIRST_PERIOD)

BY_OVEN = Formula(
    property=MOISTURE,
    grain=Grain.SPECIMEN,
    route="oven",
    standard=STANDARD,
    section=f"calculation ({FROM_MEMORY})",
    equation="MC = 100 (Mi - Mf) / Mf, of the dry mass: Mi moist, Mf dried, both less the container",
    inputs=_MASSES,
    expression=lambda moist, dried, container: 100 * (moist - dried) / (dried - container),
    lead=("mass_oven_container_moist", "mass_oven_container_dried"),
    checks=_CHECKS,
    method=Method.T329,
)
CHANGE = Formula(
    property=DRYING_CHANGE,
    grain=Grain.SPECIMEN,
    route="last_two_weighings",
    standard=STANDARD,
    section=f"constant mass ({FROM_MEMORY})",
    equation="Δm = 100 (Mp - Md) / Mp, both less the container",
    inputs=_SERIES,
    expression=_change,
    lead=("mass_oven_container_dried_before",),
    checks=(CONSTANT,),
    method=Method.T329,
)
OF_SAMPLE = Mean(
    property=MOISTURE,
    grain=Grain.SAMPLE,
    of=MOISTURE,
    of_grain=Grain.SPECIMEN,
    method=Method.T329,
    standard=STANDARD,
)
