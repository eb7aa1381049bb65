"""AASHTO T 324: rut depth under the wheel at fixed passes, and the checks on the record of a run."""

import polars as pl

from pipeline.formulas.conditions import at_least, at_most, near, within
from pipeline.formulas.model import COMMON_PRACTICE, FROM_MEMORY, Check, Formula, Grain, Mean, Property, around, bounds
from schemas.vocabulary import Method, StopReason

STANDARD = "AASHTO T 324"
CHOICES = ("wheel_positions", "wheel_reduction", "wheel_zeroed")

#: Procedures of the fits, stored with their results.
PROCEDURES = {
    "lines_procedure": "continuous two-segment least squares, the break on a grid of passes",
    "polynomial_procedure": "sixth degree, all readings, first root of p'' from pass 200 on, greatest p' after it",
    "log_model_procedure": "least squares on readings as recorded, N ult at most 5 times the last pass, "
    "beta 0.05 to 20, final viscoplastic depth at most 50 mm",
}

RUT_DEPTH = Property(
    "rut_depth", "rut depth", "rut depth", "mm", 1, at="passes", places=(5000.0, 10000.0, 15000.0, 20000.0)
)

#: How far the bath may be from its set temperature, for its mean and throughout the run.
_BATH = bounds("c", t324_bath_tolerance=1)
BATH = Check(
    code="bath_temperature_off_set_point",
    sentence="the bath was not at its set temperature",
    inputs=("bath_set", "bath_mean"),
    holds=lambda set_point, mean, tolerance: near(mean - set_point, 0, tolerance),
    bounds=_BATH,
    limit="set temperature ± {} °C",
    source="AASHTO T 324; Missouri TM-100 runs 50 ± 1 °C",
    mark=FROM_MEMORY,
)
LOAD = Check(
    code="wheel_load_off",
    sentence="the wheel load was outside the limits of the method",
    inputs=("wheel_load",),
    holds=near,
    bounds=around("n", "t324_load", 703, 4.5),
    limit="{} ± {} N",
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
COUNTER = Check(
    code="pass_counter_doubtful",
    sentence="the pass counter falls back or leaves gaps",
    inputs=("pass_counter_falls", "pass_gap_ratio"),
    holds=lambda falls, ratio, times: (falls == 0) & (ratio <= times),
    bounds=bounds("times", t324_pass_gap=10),
    limit="passes rise from reading to reading, no step above {} times the usual one",
    source="raw record of AASHTO T 324",
    mark=COMMON_PRACTICE,
)
FALLS = Check(
    code="rut_falls",
    sentence="the rut becomes shallower by more than the noise of the sensor",
    inputs=("rut_fall",),
    holds=at_most,
    bounds=bounds("mm", t324_rut_fall=0.1),
    limit="no depth more than {} mm above the deepest before",
    source="raw record of AASHTO T 324",
    mark=COMMON_PRACTICE,
)
WHEEL_RATE = Check(
    code="wheel_rate_off",
    sentence="the wheel did not run at the rate of the method",
    inputs=("wheel_rate",),
    holds=near,
    bounds=around("per_min", "t324_rate", 52, 2),
    limit="{} ± {} passes per minute",
    source="AASHTO T 324",
    mark=FROM_MEMORY,
)
SPECIMEN_VOIDS = Check(
    code="specimen_voids_off",
    sentence="the air voids of the specimens were outside the tolerance",
    inputs=("specimen_voids", "voids_tolerance"),
    holds=lambda voids, tolerance, target: (voids - target).abs() <= tolerance + 1e-9,
    bounds=bounds("pct", t324_specimen_voids=7),
    limit="{} % ± the tolerance of the settings (0.5 unless changed)",
    source="AASHTO T 324; Iowa IM 319 and California allow ± 1 %",
    mark=FROM_MEMORY,
)
ENDED_EARLY = Check(
    code="run_ended_early",
    sentence="the run was ended early by hand",
    inputs=("run_stop_reason",),
    holds=lambda reason: reason != StopReason.OPERATOR.value,
    limit="run ended by its passes or its depth",
    source="AASHTO T 324, termination",
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
BATH_RUN = Check(
    code=BATH.code,
    sentence=BATH.sentence,
    inputs=("bath_set", "bath_lowest", "bath_highest"),
    holds=lambda set_point, low, high, tolerance: (
        at_least(low - set_point, -tolerance) & at_most(high - set_point, tolerance)
    ),
    bounds=_BATH,
    limit="set temperature ± {} °C throughout the run",
    source=BATH.source,
    mark=FROM_MEMORY,
)
SOAK = Check(
    code="conditioning_off",
    sentence="the conditioning was outside the limits of the method",
    inputs=("wheel_soak",),
    holds=within,
    bounds=bounds("min", t324_soak_least=45, t324_soak_longest=65),
    limit="{} to {} min in the bath before the run",
    source="Iowa IM 319; AASHTO T 324: 45 min (30 min in old editions, from memory)",
)
HEIGHT = Check(
    code="specimen_out_of_limits",
    sentence="size or air voids of the specimen are outside the limits of the method",
    inputs=("wheel_height",),
    holds=within,
    bounds=bounds("mm", t324_height_least=38, t324_height_largest=100),
    limit="height {} to {} mm",
    source="AASHTO T 324; California 2013: 60 ± 1 mm",
    mark=FROM_MEMORY,
)
FIRST_READING = Check(
    code="first_reading_offset",
    sentence="the record starts with a depth of its own, which is not taken off",
    inputs=("first_pass", "first_depth", "depth_zeroed"),
    # Later in the run a first depth is rutting, not an offset.
    holds=lambda first, depth, zeroed, most: (first > 10) | (zeroed > 0) | near(depth, 0, most),
    bounds=bounds("mm", t324_first_depth=0.1),
    limit="depth within {} mm of zero up to pass 10, or depths zeroed by the settings",
    source="raw record of AASHTO T 324, noise of the sensor",
    mark=COMMON_PRACTICE,
)
#: What the record of a run must keep, whatever is found in it.
RECORD = (
    BATH,
    BATH_RUN,
    SOAK,
    HEIGHT,
    FIRST_READING,
    LOAD,
    POSITIONS,
    COUNTER,
    FALLS,
    WHEEL_RATE,
    SPECIMEN_VOIDS,
    ENDED_EARLY,
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
    checks=(*RECORD, LAST_READING),
    method=Method.T324,
    parameters=CHOICES,
    states=("first_depth",),
)

WHEELS_DIFFER = Check(
    code="wheels_differ",
    sentence="the left and right wheel differ too much",
    inputs=("range",),
    holds=at_most,
    bounds=bounds("mm", t324_wheels_difference=6),
    limit="difference of the rut depths at most {} mm",
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
    parameters=CHOICES,
)
