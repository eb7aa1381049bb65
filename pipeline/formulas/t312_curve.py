"""AASHTO T 312: what the course of compaction shows: slope, locking point, densification indices."""

import polars as pl

from pipeline.formulas.model import Curve, Formula, Grain, Mean, Property, Quantity
from pipeline.formulas.t312 import STANDARD
from pipeline.settings import Results
from schemas.vocabulary import Material, Method

_TABLE = (Grain.SPECIMEN, Method.T166)
_KEYS = ["sample_id", "specimen_no"]
_HERE = (Grain.SPECIMEN, Method.T312)
_CHOICES = (
    "densification_from_gyration",
    "densification_ordinate",
    "densification_construction_end_pct",
    "densification_traffic_end_pct",
)
_FROM_MEMORY = "from memory: Bahia et al., AAPT 1998"


def _of_sample(prop: Property, parameters: tuple[str, ...] = ()) -> Mean:
    return Mean(
        property=prop,
        grain=Grain.SAMPLE,
        of=prop,
        of_grain=Grain.SPECIMEN,
        method=Method.T312,
        standard=STANDARD,
        material=Material.MIX,
        parameters=parameters,
    )


SLOPE = Formula(
    property=Property("compaction_slope", "k", "slope of compaction, % of Gmm per decade of gyrations", "%", 2),
    grain=Grain.SPECIMEN,
    route="n_initial_to_n_design",
    standard="SHRP-A-408",
    section="compaction slope (from memory)",
    equation="k = [%Gmm(Ndes) - %Gmm(Nini)] / [log10 Ndes - log10 Nini]",
    inputs=("relative_density_n_initial", "relative_density_n_design", "n_initial", "n_design"),
    expression=lambda first, last, start, end: (last - first) / (end.log10() - start.log10()),
    method=Method.T312,
    material=Material.MIX,
)
SLOPE_OF_SAMPLE = _of_sample(SLOPE.property)

#: Definition -> (equal heights in a run, which such run, pairs right before it).
LOCKING_POINTS = {"2-1": (2, 1, 0), "2-2": (2, 2, 0), "2-3": (2, 3, 0), "3-2": (3, 1, 0), "3-2-2": (3, 1, 2)}
_LOCKED = Quantity("locking_gyration", "N lock", "gyration of the locking point by the chosen definition", None, *_HERE)


def _lock(series: pl.DataFrame, specimens: pl.DataFrame, choices: Results) -> pl.DataFrame:
    """Return the first gyration of the run of equal heights (to 0.1 mm) that the definition names."""
    length, which, pairs = LOCKING_POINTS[choices.locking_point]
    begins = pl.any_horizontal(pl.col(name).ne_missing(pl.col(name).shift()) for name in (*_KEYS, "level"))
    runs = (
        series.with_columns((pl.col("height") * 10).round().alias("level"))
        .with_columns(begins.cum_sum().alias("run"))
        .group_by(*_KEYS, "run", maintain_order=True)
        .agg(pl.col("gyration").first(), pl.len())
    )
    preceded = [pl.col("len").shift(back).over(_KEYS) >= 2 for back in range(1, pairs + 1)]
    fits = pl.all_horizontal(pl.col("len") >= length, *preceded).fill_null(False)
    found = (
        runs.filter(fits)
        .group_by(_KEYS, maintain_order=True)
        .agg(pl.col("gyration").get(which - 1, null_on_oob=True).cast(pl.Float64).alias("locking_gyration"))
    )
    why = pl.format(
        "no locking point by definition {} within {} gyrations", pl.lit(choices.locking_point), pl.col("gyrations")
    )
    return (
        specimens.join(found, on=_KEYS, how="left", maintain_order="left")
        .with_columns(pl.when(pl.col("locking_gyration").is_null()).then(why).alias("locking_gyration__why"))
        .drop("gyrations")
    )


LOCKING = Curve(
    name="locking_point",
    table=_TABLE,
    gives=(_LOCKED,),
    standard="Vavrik and Carpenter (3-2-2); NCHRP 573 (the others)",
    section="locking point (from memory)",
    procedure="3-2-2: first of three equal heights right after two pairs; 2-1, 2-2, 2-3: first, second, third pair; "
    "3-2: first three equal heights; heights to 0.1 mm",
    series="compaction_height",
    function=_lock,
    needs=("gyrations",),
    parameters=("locking_point",),
)
LOCKING_POINT = Formula(
    property=Property("locking_point", "N lock", "locking point", None, 0),
    grain=Grain.SPECIMEN,
    route="equal_heights",
    standard=LOCKING.standard,
    section=LOCKING.section,
    equation="first gyration of the run of equal heights that the definition names",
    inputs=("locking_gyration",),
    expression=lambda gyration: gyration * 1.0,
    method=Method.T312,
    lead=("gyrations",),
    parameters=("locking_point",),
)
LOCKING_OF_SAMPLE = _of_sample(LOCKING_POINT.property, ("locking_point",))

_INDICES = {"construction": "CDI", "traffic": "TDI"}
_AREAS = tuple(
    Quantity(f"{name}_{part}", symbol, f"{title} of the {name} densification", unit, *_HERE)
    for name in _INDICES
    for part, symbol, title, unit in (
        ("area", "A", "area under %Gmm over gyrations, to zero,", None),
        ("from", "Na", "gyration at the start", None),
        ("to", "Nb", "gyration at the end", None),
        ("ordinate", "D0", "density the area is taken above,", "%"),
    )
)


def _densify(series: pl.DataFrame, specimens: pl.DataFrame, choices: Results) -> pl.DataFrame:
    """Return the areas under %Gmm over gyrations: from the start to 92 %, and on to 98 % or the last gyration."""
    known = specimens.filter(pl.all_horizontal(pl.col("gmb", "gmm", "height_final").is_not_null()))
    density = (100 * pl.col("gmb") * pl.col("height_final") / (pl.col("gmm") * pl.col("height"))).alias("density")
    curve = series.join(known, on=_KEYS, how="inner", maintain_order="left").select(
        *_KEYS, pl.col("gyration").cast(pl.Float64), density
    )
    start = float(choices.densification_from_gyration)
    marks = curve.group_by(_KEYS, maintain_order=True).agg(
        _crossing(choices.densification_construction_end_pct).alias("at_open"),
        _crossing(choices.densification_traffic_end_pct).alias("at_closed"),
        pl.col("gyration").last().alias("end"),
        pl.lit(start).alias("start"),
    )
    spans = {
        "construction": (pl.col("start"), pl.when(pl.col("at_open") > pl.col("start")).then("at_open")),
        "traffic": (pl.col("at_open"), pl.coalesce("at_closed", "end")),
    }
    found = specimens.select(_KEYS)
    for name, (low, high) in spans.items():
        bounds = marks.select(*_KEYS, low.alias(f"{name}_from"), high.alias(f"{name}_to")).drop_nulls()
        found = found.join(_area(curve, bounds, name, choices), on=_KEYS, how="left", maintain_order="left")
    return _explained(found.join(marks, on=_KEYS, how="left", maintain_order="left"), choices)


def _crossing(level: float) -> pl.Expr:
    """Return the gyration at which the density first reaches a level, linear between gyrations."""
    density, gyration = pl.col("density"), pl.col("gyration")
    before, prior = density.shift(), gyration.shift()
    at = prior + (gyration - prior) * (level - before) / (density - before)
    return at.filter((density >= level) & (before < level)).first()


def _area(curve: pl.DataFrame, bounds: pl.DataFrame, name: str, choices: Results) -> pl.DataFrame:
    """Return area to zero, bounds and ordinate of the part of each curve between its bounds, by trapezia."""
    low, high = pl.col(f"{name}_from"), pl.col(f"{name}_to")
    n0, d0 = (pl.col(each).shift().over(_KEYS) for each in ("gyration", "density"))
    pieces = curve.with_columns(n0.alias("n0"), d0.alias("d0")).join(
        bounds, on=_KEYS, how="inner", maintain_order="left"
    )
    rise = (pl.col("density") - pl.col("d0")) / (pl.col("gyration") - pl.col("n0"))
    left, right = pl.max_horizontal("n0", low), pl.min_horizontal("gyration", high)
    width = right - left
    at_left = pl.col("d0") + rise * (left - pl.col("n0"))
    middle = at_left + rise * width / 2
    ordinate = at_left.first() if choices.densification_ordinate == "start" else pl.lit(0.0)
    return (
        pieces.filter((width > 0).fill_null(False))
        .group_by(_KEYS, maintain_order=True)
        .agg(
            (middle * width).sum().alias(f"{name}_area"),
            low.first(),
            high.first(),
            ordinate.alias(f"{name}_ordinate"),
            left.first().alias("begins"),
        )
        # Without a reading at or before the start a part of the area is not on record.
        .filter(pl.col("begins") <= low + 1e-9)
        .drop("begins")
    )


def _explained(found: pl.DataFrame, choices: Results) -> pl.DataFrame:
    """Say of each index that is missing why it is."""
    none = pl.col("end").is_null()
    unknown = pl.lit("the densities at the gyrations are not known: Gmb, Gmm or heights missing")
    open_to = f"{choices.densification_construction_end_pct:g} % of Gmm"
    short = pl.format(f"{open_to} not reached in {{}} gyrations", pl.col("end").cast(pl.Int64))
    early = pl.lit(f"{open_to} reached before gyration {choices.densification_from_gyration:g}, or no height there")
    over = pl.lit(f"the specimen ends at {open_to}")
    told = []
    for name in _INDICES:
        rest = early if name == "construction" else over
        why = pl.when(none).then(unknown).when(pl.col("at_open").is_null()).then(short).otherwise(rest)
        missing = pl.col(f"{name}_area").is_null()
        told += [pl.when(missing).then(why).alias(f"{each.name}__why") for each in _AREAS if each.name.startswith(name)]
    return found.with_columns(told).drop("at_open", "at_closed", "end", "start")


DENSIFICATION = Curve(
    name="densification_indices",
    table=_TABLE,
    gives=_AREAS,
    standard=STANDARD,
    section=f"densification indices ({_FROM_MEMORY})",
    procedure="areas under %Gmm over gyrations by trapezia: construction from the chosen gyration to one share of Gmm "
    "(92 % as shipped), traffic from there to another (98 %) or to the last gyration (no extrapolation)",
    series="compaction_height",
    function=_densify,
    needs=("gmb", "gmm", "height_final"),
    parameters=_CHOICES,
)


def _index(name: str) -> Formula:
    symbol = _INDICES[name]
    return Formula(
        property=Property(f"{name}_densification_index", symbol, f"{name} densification index", None, 1),
        grain=Grain.SPECIMEN,
        route="area",
        standard=STANDARD,
        section=DENSIFICATION.section,
        equation=f"{symbol} = A - D0 (Nb - Na), A the area under %Gmm from Na to Nb, D0 the ordinate chosen",
        inputs=("densification_area", "densification_ordinate", "densification_from", "densification_to"),
        expression=lambda area, ordinate, start, end: area - ordinate * (end - start),
        takes=tuple((f"densification_{part}", f"{name}_{part}") for part in ("area", "ordinate", "from", "to")),
        method=Method.T312,
        material=Material.MIX,
        lead=("gyrations",),
        parameters=DENSIFICATION.parameters,
        states=tuple(f"{name}_{part}" for part in ("from", "to", "ordinate")),
    )


CONSTRUCTION, TRAFFIC = _index("construction"), _index("traffic")
INDICES_OF_SAMPLE = tuple(_of_sample(each.property, each.parameters) for each in (CONSTRUCTION, TRAFFIC))
