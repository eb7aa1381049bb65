"""Load tests: what all of them measure, the peak of their traces, and the volume and voids of their specimens."""

import math
from collections.abc import Callable
from functools import partial

import polars as pl

from pipeline.formulas import load_trace
from pipeline.formulas.conditions import at_least, near
from pipeline.formulas.model import (
    COMMON_PRACTICE,
    FROM_MEMORY,
    Bound,
    Check,
    Curve,
    Expression,
    Formula,
    Grain,
    Mean,
    Property,
    Quantity,
    around,
)
from pipeline.formulas.t166 import MASS_ORDER
from pipeline.formulas.t269 import BELOW_MAXIMUM
from pipeline.settings import Results
from schemas.vocabulary import Method

#: Methods whose trace has a peak that counts.
PEAKED = (Method.T283, Method.T245, Method.D8225, Method.T393, Method.D8360)
#: Methods whose specimens are weighed for volume and voids.
WEIGHED = (Method.T247, Method.T283, Method.T245, Method.D8225, Method.T393, Method.D8360)
#: Setting that every figure found in a trace rests on, and the one of the work under it.
PEAK = "peak_drop_pct"
WORK_END = "work_end_load_n"


def standard_of(method: Method) -> str:
    """Return the designation of a method's standard."""
    return method.definition.partition(",")[0]


def quantity(name: str, symbol: str, title: str, unit: str | None, missing: str = "") -> Quantity:
    """Return a figure that specimens of every load test may have."""
    return Quantity(name, symbol, title, unit, Grain.SPECIMEN, missing=missing)


HEADER = (
    quantity("readings", "readings", "readings of the trace", None),
    quantity("specimen_diameter", "D", "diameter of the specimen", "mm"),
    quantity("specimen_thickness", "t", "thickness of the specimen", "mm"),
    quantity("air_voids_stated", "Va stated", "air voids of the specimen as stated", "%"),
    quantity("rate", "rate", "rate of loading the frame was set to", "mm/min"),
    quantity("test_temperature", "T", "temperature of the specimen at the test", "°C"),
    Quantity("conditioning", "state", "dry or conditioned", None, Grain.SPECIMEN, kind="text"),
    quantity("soak_time", "soak", "time in the bath at the test temperature", "min"),
    quantity("test_delay", "delay", "time from the bath to the peak load", "s"),
    quantity("peak_load_stated", "P stated", "largest load as stated", "N"),
    quantity("work_end_load", "P end", "load at which the work ends, by the settings", "N"),
)
LOAD_HIGHEST = quantity("load_highest", "P max", "largest load of the trace", "N", "no trace of the load")
DISPLACEMENT_HIGHEST = quantity(
    "displacement_highest", "l max", "displacement at the largest load", "mm", "no trace of the load"
)
RATE_MEASURED = quantity("rate_measured", "rate", "rate of loading up to the peak, from the trace", "mm/min")
WORK_TO_END = quantity("work_to_end", "∫P dl", "area under the trace to the end load", "J", "no trace of the load")
LOAD_END = quantity("load_end", "P end", "smallest load after the peak", "N")

Procedure = Callable[[pl.DataFrame, Results, Method], pl.DataFrame]


def curve(
    name: str,
    method: Method,
    gives: tuple[Quantity, ...],
    procedure: Procedure,
    told: str,
    standard: str,
    parameters: tuple[str, ...] = (),
) -> Curve:
    """Return a procedure over the traces of one method."""

    def run(series: pl.DataFrame, specimens: pl.DataFrame, choices: Results) -> pl.DataFrame:
        return procedure(series, choices, method)

    return Curve(
        name=f"{name} of {method.value}",
        table=(Grain.SPECIMEN, method),
        gives=gives,
        standard=standard,
        section=f"from the trace ({COMMON_PRACTICE})",
        procedure=told,
        series="load_point",
        function=run,
        parameters=(PEAK, *parameters),
    )


PEAKS = tuple(
    curve(
        "peak",
        method,
        (LOAD_HIGHEST, DISPLACEMENT_HIGHEST, RATE_MEASURED),
        load_trace.peaks,
        "the first reading with the largest load, displacement counted from the first reading; it is a peak once the "
        "load falls by a set share after it",
        standard_of(method),
    )
    for method in PEAKED
)


def works_of(method: Method, standard: str) -> Curve:
    """Return the procedure that finds the work of failure."""
    told = "area under load and displacement by trapezoids, from the first reading to the end load after the peak"
    return curve("work", method, (WORK_TO_END, LOAD_END), load_trace.works, told, standard, (WORK_END,))


PEAK_LOAD = Property("peak_load", "P", "peak load", "N", 0)
PEAK_DISPLACEMENT = Property("peak_displacement", "l peak", "displacement at the peak load", "mm", 2)
WORK_OF_FAILURE = Property("work_of_failure", "Wf", "work of failure", "J", 2)
SPECIMEN_VOLUME = Property("specimen_volume", "V", "volume of the specimen", "cm³", 1)
SPECIMEN_GMB = Property(
    "specimen_gmb", "Gmb of the specimen", "bulk specific gravity of the strength specimen", None, 3
)
SPECIMEN_AIR_VOIDS = Property("specimen_air_voids", "Pa", "air voids of the strength specimen", "%", 1)


def trace_formula(
    prop: Property, method: Method, name: str, equation: str, checks: tuple[Check, ...] = (), *choices: str
) -> Formula:
    """Return the formula that shows a figure a procedure found in the trace."""
    return Formula(
        property=prop,
        grain=Grain.SPECIMEN,
        route=f"trace_{method.value}",
        standard=standard_of(method),
        section=f"from the trace ({COMMON_PRACTICE})",
        equation=equation,
        inputs=(name,),
        expression=lambda found: found * 1.0,
        lead=("readings",),
        checks=checks,
        method=method,
        parameters=(PEAK, *choices),
    )


def stated_formula(prop: Property, method: Method, name: str, equation: str) -> Formula:
    """Return the formula that takes a figure as stated, where there is no trace."""
    return Formula(
        property=prop,
        grain=Grain.SPECIMEN,
        route=f"stated_{method.value}",
        standard=standard_of(method),
        section=f"as stated by the frame ({COMMON_PRACTICE})",
        equation=equation,
        inputs=(name,),
        expression=lambda stated: stated * 1.0,
        applies=pl.col("readings").is_null(),
        method=method,
    )


def _weighed(prop: Property, method: Method, section: str, equation: str, expression: Expression) -> Formula:
    return Formula(
        property=prop,
        grain=Grain.SPECIMEN,
        route=f"surface_dry_{method.value}",
        standard="AASHTO T 166",
        section=section,
        equation=equation,
        inputs=("mass_dry", "mass_ssd", "mass_submerged"),
        expression=expression,
        checks=(MASS_ORDER,),
        method=method,
    )


PEAK_OF_TRACE = tuple(
    trace_formula(PEAK_LOAD, method, "load_highest", "P = largest load of the trace") for method in PEAKED
)
PEAK_STATED = tuple(
    stated_formula(PEAK_LOAD, method, "peak_load_stated", "P = largest load as stated") for method in PEAKED
)
PEAK_PLACE = tuple(
    trace_formula(PEAK_DISPLACEMENT, method, "displacement_highest", "l peak = displacement at P") for method in PEAKED
)
GMB = tuple(
    _weighed(
        SPECIMEN_GMB,
        method,
        "method A",
        "Gmb = A / (B - C), with A dry in air, B surface-dry in air, C in water",
        lambda dry, ssd, submerged: dry / (ssd - submerged),
    )
    for method in WEIGHED
)
VOIDS = tuple(
    Formula(
        property=SPECIMEN_AIR_VOIDS,
        grain=Grain.SPECIMEN,
        route=f"from_gravities_{method.value}",
        standard="AASHTO T 269",
        section="dense mixtures",
        equation="Pa = 100 (1 - Gmb / Gmm)",
        inputs=("gmb", "gmm"),
        takes=(("gmb", "specimen_gmb"),),
        expression=lambda gmb, gmm: 100 * (1 - gmb / gmm),
        checks=(BELOW_MAXIMUM,),
        method=method,
    )
    for method in WEIGHED
)
VOIDS_STATED = tuple(
    Formula(
        property=SPECIMEN_AIR_VOIDS,
        grain=Grain.SPECIMEN,
        route=f"stated_{method.value}",
        standard=standard_of(method),
        section=f"as stated by the laboratory ({COMMON_PRACTICE})",
        equation="Pa = air voids as stated",
        inputs=("air_voids_stated",),
        expression=lambda stated: stated * 1.0,
        applies=pl.col("mass_dry").is_null(),
        method=method,
    )
    for method in WEIGHED
)
VOLUME = Formula(
    property=SPECIMEN_VOLUME,
    grain=Grain.SPECIMEN,
    route="weighed",
    standard="AASHTO T 166",
    section="method A, water at 1 g/cm³",
    equation="V = B - C, with B surface-dry in air, C in water",
    inputs=("mass_ssd", "mass_submerged"),
    expression=lambda ssd, submerged: ssd - submerged,
    checks=(MASS_ORDER,),
    method=Method.T245,
)
VOLUME_MEASURED = Formula(
    property=SPECIMEN_VOLUME,
    grain=Grain.SPECIMEN,
    route="measured",
    standard="AASHTO T 245",
    section=f"volume by dimensions ({COMMON_PRACTICE})",
    equation="V = π D² t / 4000",
    inputs=("specimen_diameter", "specimen_thickness"),
    expression=lambda diameter, thickness: math.pi * diameter * diameter * thickness * 0.00025,
    applies=pl.col("mass_ssd").is_null(),
    method=Method.T245,
)

_CONDITIONS = partial(
    Check,
    code="test_conditions_off",
    sentence="rate or temperature of the test was outside the limits of the method",
)


def rate_check(of: str, target: float, tolerance: float, source: str) -> tuple[Check, Check]:
    """Return the checks of the rate: as measured from the trace, and as the frame was set."""
    stated = partial(
        _CONDITIONS,
        holds=near,
        bounds=around("mm_min", f"{of}_rate", target, tolerance),
        limit="{} ± {} mm/min",
        source=source,
        mark=FROM_MEMORY,
    )
    return stated(inputs=("rate_measured",)), stated(inputs=("rate",))


def temperature_check(of: str, target: float, tolerance: float, source: str) -> Check:
    """Return the check of the temperature at the test."""
    return _CONDITIONS(
        inputs=("test_temperature",),
        holds=near,
        bounds=around("c", f"{of}_temperature", target, tolerance),
        limit="{} ± {} °C",
        source=source,
        mark=FROM_MEMORY,
    )


def specimen_check(
    inputs: tuple[str, ...], holds: Expression, limit: str, source: str, stated: tuple[Bound, ...]
) -> Check:
    """Return a check of size or voids of the specimen."""
    return Check(
        code="specimen_out_of_limits",
        sentence="size or air voids of the specimen are outside the limits of the method",
        inputs=inputs,
        holds=holds,
        limit=limit,
        source=source,
        mark=FROM_MEMORY,
        bounds=stated,
    )


def voids_check(of: str, source: str) -> Check:
    """Return the check of the specimen's voids."""
    stated = around("pct", f"{of}_specimen_voids", 7, 0.5)
    return specimen_check(("specimen_air_voids",), near, "air voids {} ± {} %", source, stated)


CUT_SHORT = Check(
    code="trace_cut_short",
    sentence="the trace ends above the end load: the work is too small",
    inputs=("load_end", "work_end_load"),
    holds=lambda load, end: load <= end,
    limit="the load falls to 0.1 kN, or the end load of the settings",
    source="ASTM D8225, AASHTO T 393",
    mark=FROM_MEMORY,
)
TOO_FEW = Check(
    code="too_few_specimens",
    sentence="fewer specimens have a result than the method asks for",
    inputs=("n",),
    holds=at_least,
    bounds=(Bound("strength_specimens", 3),),
    limit="at least {} specimens",
    source="AASHTO T 283, T 245, ASTM D8225, AASHTO T 393",
    mark=FROM_MEMORY,
)


def mean_of(
    prop: Property,
    method: Method,
    standard: str,
    checks: tuple[Check, ...] = (TOO_FEW,),
    parameters: tuple[str, ...] = (PEAK,),
) -> Mean:
    """Return the sample's mean of a figure of its specimens."""
    return Mean(
        property=prop,
        grain=Grain.SAMPLE,
        of=prop,
        of_grain=Grain.SPECIMEN,
        method=method,
        route=f"mean_{method.value}",
        standard=standard,
        checks=checks,
        parameters=parameters,
    )
