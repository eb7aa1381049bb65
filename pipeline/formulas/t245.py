"""AASHTO T 245, ASTM D6927: Marshall stability with its correlation ratio, and flow."""

import tomllib
from functools import cache
from pathlib import Path

import polars as pl

from pipeline.formulas import load_trace
from pipeline.formulas.compaction_steps import IMPACT
from pipeline.formulas.conditions import at_most, near, within
from pipeline.formulas.load_tests import PEAK, curve, mean_of, quantity, rate_check, specimen_check, temperature_check
from pipeline.formulas.model import (
    COMMON_PRACTICE,
    FROM_MEMORY,
    Check,
    Formula,
    Grain,
    Precision,
    Property,
    Quantity,
    around,
    bounds,
)
from schemas.vocabulary import Method

STANDARD = "AASHTO T 245, ASTM D6927"
_TABLE = Path(__file__).parent / "data" / "marshall_correlation.toml"
_TANGENT = ("flow_tangent_from_pct", "flow_tangent_to_pct")
#: Digits of a volume in cm³ that can come from a balance; what lies beyond is noise of float arithmetic.
_NOISE = 6

TANGENT_START = quantity("tangent_start", "l0", "where the tangent meets zero load", "mm", "no trace of the load")
FLOW_STATED = quantity("flow_stated", "flow stated", "flow as stated", "mm")
BINDER_CONTENTS = tuple(
    Quantity(f"pb_at_{name}", "Pb", f"binder content at {title}", "%", Grain.SAMPLE)
    for name, title in (
        ("stability", "the peak of stability"),
        ("unit_weight", "the peak of unit weight"),
        ("voids", "4 % air voids"),
        ("vfa", "75 % VFA"),
    )
)

STABILITY = Property("marshall_stability", "stability", "Marshall stability, corrected for volume", "kN", 2)
FLOW = Property("marshall_flow", "flow", "Marshall flow, in steps of 0.25 mm", None, 0)
PB_OPTIMUM = Property("pb_optimum", "Pb opt", "optimum binder content by Marshall curves", "%", 1)


@cache
def correlation() -> tuple[tuple[int, int, float, float], ...]:
    """Return the published table: volume from and to (cm³), thickness (mm), ratio."""
    rows = tomllib.loads(_TABLE.read_text(encoding="utf-8"))["rows"]
    return tuple((low, high, thickness, ratio) for low, high, thickness, ratio in rows)


def ratio_at(volume: pl.Expr) -> pl.Expr:
    """Return the correlation ratio of a whole volume in cm³; null outside the table."""
    found = [pl.when(volume.is_between(low, high)).then(ratio) for low, high, _, ratio in correlation()]
    return pl.coalesce(found)


def whole(volume: pl.Expr) -> pl.Expr:
    """Return a volume rounded to 1 cm³, an exact half to the even number (ASTM E29)."""
    return volume.round(_NOISE).round(0, mode="half_to_even")


IN_TABLE = Check(
    code="volume_outside_table",
    sentence="the correlation ratio of the stability is published for other volumes only",
    inputs=("specimen_volume",),
    holds=lambda volume: whole(volume).is_between(correlation()[0][0], correlation()[-1][1]),
    limit="200 to 625 cm³ after rounding to 1 cm³",
    source="ASTM D1559, table of correlation ratios; Asphalt Institute MS-2, 6th edition, table 5.1",
    effect="withhold",
)
AT_EDGE = Check(
    code="volume_at_bracket_edge",
    sentence="the volume lies between two brackets of the table: how it is rounded decides the ratio",
    inputs=("specimen_volume",),
    holds=lambda volume: ratio_at(volume.round(_NOISE).floor()) == ratio_at(volume.round(_NOISE).ceil()),
    limit="volume within one bracket of the correlation table",
    source="ASTM D1559, table of correlation ratios; rounding by ASTM E29",
    mark=COMMON_PRACTICE,
)
SOAK = Check(
    code="conditioning_off",
    sentence="the conditioning was outside the limits of the method",
    inputs=("soak_time",),
    holds=within,
    bounds=bounds("min", t245_soak_least=30, t245_soak_longest=40),
    limit="{} to {} min in the bath",
    source=STANDARD,
    mark=FROM_MEMORY,
)
DIAMETER = specimen_check(
    ("specimen_diameter",),
    near,
    "diameter {} ± {} mm (4 in.), which the table assumes",
    STANDARD,
    around("mm", "t245_diameter", 101.6, 1.6),
)
DELAY = Check(
    code="conditioning_off",
    sentence="the conditioning was outside the limits of the method",
    inputs=("test_delay",),
    holds=at_most,
    bounds=bounds("s", t245_delay=30),
    limit="at most {} s from the bath to the peak load",
    source=STANDARD,
    mark=FROM_MEMORY,
)
SPREAD = specimen_check(
    ("length_height_range",),
    at_most,
    f"readings of the thickness within {{}} mm, one row of the correlation table ({COMMON_PRACTICE})",
    STANDARD,
    bounds("mm", t245_thickness_range=1.6),
)
_CHECKS = (
    *IMPACT,
    SOAK,
    DELAY,
    SPREAD,
    DIAMETER,
    temperature_check("t245", 60, 1, STANDARD),
    *rate_check("t245", 50.8, 5, STANDARD),
)

TANGENTS = curve(
    "tangent",
    Method.T245,
    (TANGENT_START,),
    load_trace.tangents,
    "least-squares line through the rising branch between two shares of the peak load, extended to zero load",
    STANDARD,
    _TANGENT,
)
CORRECTED = Formula(
    property=STABILITY,
    grain=Grain.SPECIMEN,
    route="by_volume",
    standard=STANDARD,
    section="correlation ratio, ASTM D1559 table",
    equation="stability = c(V) P / 1000, c of the volume rounded to 1 cm³ by ASTM E29, half to even; P in N",
    inputs=("peak_load", "specimen_volume"),
    expression=lambda load, volume: ratio_at(whole(volume)) * load * 0.001,
    checks=(IN_TABLE, AT_EDGE, *_CHECKS),
    precision=Precision("single operator CV about 6 %, multilaboratory 16 %", FROM_MEMORY),
    method=Method.T245,
    parameters=(PEAK,),
)
_FLOW_PRECISION = Precision("single operator CV about 9 %, multilaboratory 20 %", FROM_MEMORY)
OF_TRACE = Formula(
    property=FLOW,
    grain=Grain.SPECIMEN,
    route="tangent_offset",
    standard=STANDARD,
    section=f"tangent offset ({FROM_MEMORY})",
    equation="flow = (l peak - l0) / 0.25 mm, l0 where the tangent of the rising branch meets zero load",
    inputs=("peak_displacement", "tangent_start"),
    expression=lambda peak, start: (peak - start) / 0.25,
    lead=("readings",),
    checks=_CHECKS,
    precision=_FLOW_PRECISION,
    method=Method.T245,
    parameters=(PEAK, *_TANGENT),
)
STATED = Formula(
    property=FLOW,
    grain=Grain.SPECIMEN,
    route="stated",
    standard=STANDARD,
    section=f"as stated by the frame ({COMMON_PRACTICE})",
    equation="flow = flow as stated / 0.25 mm",
    inputs=("flow_stated",),
    expression=lambda flow: flow / 0.25,
    applies=pl.col("readings").is_null(),
    checks=_CHECKS,
    precision=_FLOW_PRECISION,
    method=Method.T245,
)
MEANS = (mean_of(STABILITY, Method.T245, STANDARD), mean_of(FLOW, Method.T245, STANDARD, parameters=(PEAK, *_TANGENT)))

OPTIMUM = Formula(
    property=PB_OPTIMUM,
    grain=Grain.SAMPLE,
    route="mean_of_four",
    standard="UFC 3-250-03",
    section="tables 2-8 and 2-9",
    equation="Pb opt = mean of Pb at peak stability, at peak unit weight, at 4 % voids and at 75 % VFA",
    inputs=("pb_at_stability", "pb_at_unit_weight", "pb_at_voids", "pb_at_vfa"),
    expression=lambda stability, weight, voids, vfa: (stability + weight + voids + vfa) / 4,
    by_hand_only=True,
)
