"""AASHTO T 324: rut depth under the wheel at fixed passes."""

import polars as pl

from pipeline.formulas.model import COMMON_PRACTICE, FROM_MEMORY, Check, Formula, Grain, Mean, Property
from schemas.vocabulary import Method

STANDARD = "AASHTO T 324"
_CHOICES = ("wheel_positions", "wheel_reduction", "wheel_zeroed")

RUT_DEPTH = Property(
    "rut_depth", "rut depth", "rut depth", "mm", 1, at="passes", places=(5000.0, 10000.0, 15000.0, 20000.0)
)

BATH = Check(
    code="bath_temperature_off_set_point",
    sentence="the bath was not at its set temperature",
    inputs=("bath_set", "bath_mean"),
    holds=lambda set_point, mean: (mean - set_point).abs() <= 1 + 1e-9,
    limit="set temperature ± 1.0 °C",
    source="AASHTO T 324; Missouri TM-100 runs 50 ± 1 °C",
    mark=FROM_MEMORY,
)
LOAD = Check(
    code="wheel_load_off",
    sentence="the wheel load was outside the limits of the method",
    inputs=("wheel_load",),
    holds=lambda load: (load - 703).abs() <= 4.5 + 1e-9,
    limit="703 ± 4.5 N",
    source="AASHTO T 324",
    mark=FROM_MEMORY,
)
POSITIONS = Check(
    code="positions_missing",
    sentence="readings at some of the counted positions are missing: the others stand for them",
    inputs=("positions_missing",),
    holds=lambda missing: missing == 0,
    limit="a reading at every counted position",
    source="AASHTO T 324, positions counted",
    mark=COMMON_PRACTICE,
)
LAST_READING = Check(
    code="taken_from_last_reading",
    sentence="the record ends one reading before that pass: the last reading is taken",
    inputs=("reading_short",),
    holds=lambda short: short == 0,
    limit="a reading at or after the pass",
    source="AASHTO T 324, depth at the last pass",
    mark=COMMON_PRACTICE,
)


def interpolated(asked: pl.Expr, before: pl.Expr, after: pl.Expr, depth1: pl.Expr, depth2: pl.Expr) -> pl.Expr:
    """Return the depth at a pass, linear between the readings before and after it."""
    share = (asked - before) / (after - before)
    return pl.when(after > before).then(depth1 + (depth2 - depth1) * share).otherwise(depth1)


AT_PASS = Formula(
    property=RUT_DEPTH,
    grain=Grain.SPECIMEN_PASS,
    route="interpolated",
    standard=STANDARD,
    section="depth at a fixed pass",
    equation="R(N) = R1 + (R2 - R1)(N - N1)/(N2 - N1), with N1, N2 the recorded passes around N",
    inputs=("pass_asked", "pass_before", "pass_after", "depth_before", "depth_after"),
    expression=interpolated,
    checks=(BATH, LOAD, POSITIONS, LAST_READING),
    method=Method.T324,
    parameters=_CHOICES,
)

WHEELS_DIFFER = Check(
    code="wheels_differ",
    sentence="the left and right wheel differ too much",
    inputs=("range",),
    holds=lambda spread: spread <= 6 + 1e-9,
    limit="difference of the rut depths at most 6 mm",
    source="AASHTO T 324 and California practice",
    mark=FROM_MEMORY,
)
SINGLE_WHEEL = Check(
    code="single_wheel",
    sentence="only one wheel has a result",
    inputs=("n",),
    holds=lambda n: n >= 2,
    limit="both wheels",
    source="AASHTO T 324, mean of both wheels",
    mark=COMMON_PRACTICE,
)
OF_SAMPLE = Mean(
    property=RUT_DEPTH,
    grain=Grain.SAMPLE_PASS,
    of=RUT_DEPTH,
    of_grain=Grain.SPECIMEN_PASS,
    method=Method.T324,
    route="mean_of_wheels",
    standard=STANDARD,
    over=("sample_id", "wheel_pass"),
    every=True,
    checks=(WHEELS_DIFFER, SINGLE_WHEEL),
    parameters=_CHOICES,
)
