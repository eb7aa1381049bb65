"""Figures of a whole gradation: nominal and maximum size, primary control sieve, fineness modulus, density line."""

from functools import reduce
from operator import add

import polars as pl

from pipeline.formulas.model import COMMON_PRACTICE, FROM_MEMORY, Check, Curve, Formula, Grain, Property, Quantity
from pipeline.formulas.nominal_size import DEFINITIONS, SERIES, looked_up, sizes
from pipeline.formulas.quantities import numbered
from pipeline.settings import Results
from schemas.vocabulary import Material

_R35 = "AASHTO R 35, M 323"


def _picked(sieve: float) -> Quantity:
    name = f"passing_{sieve:g}".replace(".", "_")
    return Quantity(
        name,
        f"P{sieve:g}",
        f"passing the {sieve:g} mm sieve",
        "%",
        Grain.SAMPLE,
        missing=f"passing {sieve:g} mm missing: no T 27 or T 30 result of this sample at that sieve",
        picks=("passing", sieve),
    )


#: Passing of the sample at single sieves; 0.075 mm stands with the figures of the register.
PICKED = tuple(_picked(sieve) for sieve in (75.0, 37.5, 19.0, 9.5, 4.75, 2.36, 1.18, 0.6, 0.3, 0.15))

_FOUND = (
    Quantity("nominal_size_found", "NMAS", "nominal maximum size read off the gradation", "mm", Grain.SAMPLE),
    Quantity("maximum_size_found", "D", "maximum size read off the gradation", "mm", Grain.SAMPLE),
    Quantity("passing_control", "P at PCS", "passing the primary control sieve", "%", Grain.SAMPLE),
    Quantity("control_point_found", "PCS point", "control point of the primary control sieve", "%", Grain.SAMPLE),
    Quantity("gradation_sieves", "n", "sieves of the series with a result", None, Grain.SAMPLE),
)
_SIZE_CHOICE = ("nominal_size",)
_CONTROL_CHOICE = (*_SIZE_CHOICE, "control_sieve_mm", "control_point_pct")
#: By hand there are no settings: the tables as shipped.
_SHIPPED = Results()
_POINTS = _SHIPPED.control_point_pct
#: Wherever there is a gradation the figure is due, and has a reason where there is none.
_LEAD = ("gradation_sieves",)


def _read_off(gradation: pl.DataFrame, samples: pl.DataFrame, choices: Results) -> pl.DataFrame:
    """Read the sizes off the gradation of every sample (passing by sieve)."""
    at = {sieve: pl.col("passing").filter((pl.col("sieve_mm") - sieve).abs() < 1e-6).first() for sieve in SERIES}
    wide = gradation.group_by("sample_id", maintain_order=True).agg(
        *(value.alias(f"{sieve:g}") for sieve, value in at.items())
    )
    passing = [pl.col(f"{sieve:g}") for sieve in SERIES]
    found = sizes(passing, choices.nominal_size)
    sized = wide.with_columns(nominal=found.nominal, maximum=found.maximum, why=found.why)
    sieve = looked_up(pl.col("nominal"), choices.control_sieve_mm)
    point = looked_up(pl.col("nominal"), choices.control_point_pct)
    control = pl.coalesce(pl.when(sieve == each).then(pl.col(f"{each:g}")) for each in SERIES)
    unlisted = pl.when(sieve.is_null() | point.is_null()).then(
        pl.format("no primary control sieve for nominal size {} mm", "nominal")
    )
    control_why = pl.coalesce("why", unlisted, pl.format("passing {} mm missing (primary control sieve)", sieve))
    return sized.select(
        "sample_id",
        nominal_size_found="nominal",
        nominal_size_found__why="why",
        maximum_size_found="maximum",
        maximum_size_found__why="why",
        passing_control=control,
        passing_control__why=pl.when(control.is_null()).then(control_why),
        control_point_found=point,
        control_point_found__why=pl.coalesce("why", unlisted),
        gradation_sieves=pl.sum_horizontal(each.is_not_null() for each in passing).cast(pl.Float64),
    )


SIZES = Curve(
    name="sizes",
    table=(Grain.SAMPLE, None),
    gives=_FOUND,
    standard=_R35,
    section="nominal maximum size",
    procedure="the gradation is searched from the largest sieve of the series 50 to 0.075 mm down: " + DEFINITIONS,
    series="gradation of the sample",
    along=((Grain.SAMPLE_SIEVE, None), "passing"),
    function=_read_off,
    parameters=_SIZE_CHOICE,
)

NMAS = Property("nmas_found", "NMAS", "nominal maximum aggregate size, of the gradation found", "mm", 2)
MAXIMUM_SIZE = Property("maximum_size", "D", "maximum aggregate size, of the gradation found", "mm", 2)
CONTROL_MARGIN = Property(
    "control_margin", "P - PCS", "passing the primary control sieve less its control point; below 0 is coarse", "%", 1
)
CONTROL_POINT = Property("control_point", "PCS point", "control point of the primary control sieve", "%", 0)

SIZE_SERIES = (
    *numbered("d", "d", "opening of the sieve", "mm"),
    *numbered("pass", "P", "passing that sieve", "%"),
)


def _by_hand(*pairs: pl.Expr) -> tuple[pl.Expr, ...]:
    """Return passing at every sieve of the series from openings and figures in pairs."""
    openings, figures = pairs[0::2], pairs[1::2]
    return tuple(
        pl.coalesce(
            pl.when((opening - sieve).abs() < 1e-6).then(figure)
            for opening, figure in zip(openings, figures, strict=True)
        )
        for sieve in SERIES
    )


def _sizes_of(prop: Property, name: str, which: str) -> tuple[Formula, Formula]:
    read = Formula(
        property=prop,
        grain=Grain.SAMPLE,
        route="of_gradation",
        standard=_R35,
        section="nominal maximum size, by the definition of the settings",
        equation=f"{prop.symbol} = {DEFINITIONS}",
        inputs=(name,),
        expression=lambda found: found * 1.0,
        lead=_LEAD,
        parameters=_SIZE_CHOICE,
    )
    by_hand = Formula(
        property=prop,
        grain=Grain.SAMPLE,
        route="by_hand",
        standard=_R35,
        section="nominal maximum size",
        equation="NMAS: one sieve above the first to retain more than 10 %; D: one above NMAS; sieves 50 to 0.075 mm",
        inputs=("d1", "pass1", "d2", "pass2"),
        expression=lambda *pairs: getattr(sizes(_by_hand(*pairs), "ten_percent"), which),
        by_hand_only=True,
        variadic=("d", "pass"),
    )
    return read, by_hand


SIZES_OF = (
    *_sizes_of(NMAS, "nominal_size_found", "nominal"),
    *_sizes_of(MAXIMUM_SIZE, "maximum_size_found", "maximum"),
)
CONTROL_OF_SIZE = Formula(
    property=CONTROL_POINT,
    grain=Grain.SAMPLE,
    route="of_nominal_size",
    standard="AASHTO M 323",
    section=f"table 4 ({FROM_MEMORY})",
    equation="PCS point: "
    + ", ".join(f"{size} mm {point:g} % at {_SHIPPED.control_sieve_mm[size]:g} mm" for size, point in _POINTS.items()),
    inputs=("nmas_found",),
    expression=lambda nominal: looked_up(nominal, _POINTS),
    by_hand_only=True,
)
MARGIN = Formula(
    property=CONTROL_MARGIN,
    grain=Grain.SAMPLE,
    route="of_gradation",
    standard="AASHTO M 323",
    section=f"table 4 ({FROM_MEMORY})",
    equation="P - PCS, with P passing the primary control sieve of the nominal size and PCS its control point",
    inputs=("passing_control", "control_point_found"),
    expression=lambda passing, point: passing - point,
    lead=_LEAD,
    material=Material.MIX,
    parameters=_CONTROL_CHOICE,
)

FINENESS = Property("fineness_modulus", "FM", "fineness modulus", None, 2)
SAND_RATIO = Property("sand_ratio", "sand ratio", "share of fine sand in the sand", "%", 1)
DENSITY_LINE = Property("density_line", "P max", "passing on the maximum density line", "%", 1)
ABSCISSA = Property("density_abscissa", "d^0.45", "abscissa of the 0.45 power chart", None, 3)
BLENDED = Property("blended", "P blend", "passing of a blend of stockpiles", "%", 1)

_FINE = tuple(quantity.name for quantity in PICKED if quantity.picks and quantity.picks[1] < 9)
_COARSE = ("passing_9_5", "passing_19", "passing_37_5", "passing_75")


def _known(*passing: pl.Expr) -> pl.Expr:
    """Return whether nothing is retained above the largest sieve used: sieves left out above it retain nothing."""
    below, whole = passing[0], pl.lit(True)
    for above in passing[1:]:
        whole = whole & (above.is_not_null() | (below >= 100 - 1e-9))
        below = pl.coalesce(above, below)
    return whole & (below >= 100 - 1e-9)


COMPLETE = Check(
    code="sieve_of_series_missing",
    sentence="a sieve of the series 75, 37.5, 19, 9.5 mm is missing though something is retained above the next",
    inputs=("passing_4_75", *_COARSE),
    holds=_known,
    limit="100 % passing below every sieve of the series that was left out",
    source="definition of the fineness modulus",
    mark=COMMON_PRACTICE,
    effect="withhold",
)
MODULUS = Formula(
    property=FINENESS,
    grain=Grain.SAMPLE,
    route="of_passing",
    standard="ASTM C136, AASHTO T 27",
    section="fineness modulus",
    equation="FM = Σ (100 - P) / 100 over 0.15, 0.3, 0.6, 1.18, 2.36, 4.75, 9.5, 19, 37.5, 75 mm",
    inputs=(*_FINE, *_COARSE),
    expression=lambda *passing: reduce(add, [100 - each for each in passing]) * 0.01,
    defaults=tuple((name, 100.0) for name in _COARSE),
    checks=(COMPLETE,),
    lead=("passing_0_15",),
    material=Material.AGGREGATE,
)
RETAINED_SERIES = numbered("ret", "R", "retained in all on that sieve of the series", "%")
MODULUS_OF_RETAINED = Formula(
    property=FINENESS,
    grain=Grain.SAMPLE,
    route="of_retained",
    standard="ASTM C136, AASHTO T 27",
    section="fineness modulus",
    equation="FM = Σ R / 100, with R the cumulative % retained on 0.15, 0.3, 0.6, 1.18 mm and so on",
    inputs=("ret1", "ret2"),
    expression=lambda *retained: reduce(add, retained) * 0.01,
    by_hand_only=True,
    variadic=("ret",),
)
RATIO_OF_SAND = Formula(
    property=SAND_RATIO,
    grain=Grain.SAMPLE,
    route="of_passing",
    standard="Mississippi DOT field manual for HMA",
    section="sand ratio",
    equation="sand ratio = 100 (P0.6 - P0.075) / (P2.36 - P0.075)",
    inputs=("passing_0_6", "passing_0_075", "passing_2_36"),
    expression=lambda middle, dust, sand: 100 * (middle - dust) / (sand - dust),
)
LINE = Formula(
    property=DENSITY_LINE,
    grain=Grain.SAMPLE,
    route="power",
    standard=_R35,
    section="0.45 power chart",
    equation="P max = 100 (d / D)^n, with D the maximum size (one above NMAS) and n = 0.45",
    inputs=("opening", "maximum_size", "exponent"),
    expression=lambda opening, largest, exponent: 100 * (opening / largest) ** exponent,
    defaults=(("exponent", 0.45),),
    by_hand_only=True,
)
CHART = Formula(
    property=ABSCISSA,
    grain=Grain.SAMPLE,
    route="power",
    standard=_R35,
    section="0.45 power chart",
    equation="d^n, with n = 0.45",
    inputs=("opening", "exponent"),
    expression=lambda opening, exponent: opening**exponent,
    defaults=(("exponent", 0.45),),
    by_hand_only=True,
)
LINE_INPUTS = (
    Quantity("opening", "d", "opening of a sieve", "mm", Grain.SAMPLE),
    Quantity("exponent", "n", "exponent of the density line", None, Grain.SAMPLE),
)


def _blend(*pairs: pl.Expr) -> pl.Expr:
    shares, figures = pairs[0::2], pairs[1::2]
    parts = [share * figure for share, figure in zip(shares, figures, strict=True)]
    return reduce(add, parts) / reduce(add, shares)


BLEND = Formula(
    property=BLENDED,
    grain=Grain.SAMPLE,
    route="of_stockpiles",
    standard="AASHTO R 35",
    section="blending by mass",
    equation="P blend = Σ a P / Σ a, with a the share of a stockpile by mass, P its passing at the sieve",
    inputs=("p1", "pass1", "p2", "pass2"),
    expression=_blend,
    by_hand_only=True,
    variadic=("p", "pass"),
)
