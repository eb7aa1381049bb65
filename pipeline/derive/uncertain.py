"""Derived tables -> standard uncertainty of every figure, by the same expressions: the law of propagation, set-wise.

Every uncertain figure has signed parts, one per independent source, in columns `<name>__u:<source>`, and their root
sum of squares in `<name>__u`. A formula's parts are its inputs' parts times the sensitivities, so figures that share
a source stay correlated down the chain. A mean is a source of its own.
"""

from collections.abc import Iterable, Iterator
from functools import reduce
from math import sqrt
from operator import add

import polars as pl

from pipeline.derive.engine import Frames
from pipeline.derive.means import counting, trimmed
from pipeline.derive.spelt_out import spelt_out
from pipeline.derive.ways import column_of
from pipeline.formulas.model import LONG, Curve, Formula, Grain, Mean, Quantity, Route, Table, family
from pipeline.formulas.registry import Node, Registry, label, source_of
from pipeline.settings import Uncertainty
from pipeline.uncertainty.declared import READABILITY, Contribution, contributions
from pipeline.uncertainty.propagation import STEP
from schemas.vocabulary import Method

_BALANCE = "balance"
_READABILITY = "readability"
_SPECIMEN = ["sample_id", "specimen_no"]
#: Method of a record -> method of the table its specimens stand in.
_FAMILIES = {method.value: family(method).value for method in Method}


def uncertain(
    frames: Frames, registry: Registry, weighing: pl.DataFrame, instrument: pl.DataFrame, settings: Uncertainty
) -> Frames:
    """Return the tables with the standard uncertainty of every figure that has one, in `<name>__u`.

    Parameters
    ----------
    frames
        Tables with derived figures, as `engine.run` leaves them.
    weighing, instrument
        Current rows: which balance was used, and its readability.
    settings
        Contributions and options.
    """
    declared = contributions(settings)
    readable = _readable(weighing, instrument)
    found = {table: _measured(frame, table, registry, readable, declared, settings) for table, frame in frames.items()}
    for generation in registry.order:
        for step in generation:
            if isinstance(step, Curve) or found[step.table].is_empty():
                continue
            if step.table[0] not in LONG:
                found[step.table] = _node(found, registry, step, declared, settings)
    return found


def _readable(weighing: pl.DataFrame, instrument: pl.DataFrame) -> pl.DataFrame:
    """Return the coarsest readability of the balances each specimen was weighed on, by method."""
    steps = instrument.select("instrument_id", pl.col("readability_g").alias(_READABILITY)).drop_nulls()
    return (
        weighing.select(*_SPECIMEN, pl.col("method").replace(_FAMILIES), "instrument_id")
        .unique()
        .join(steps, on="instrument_id", how="inner")
        .group_by(*_SPECIMEN, "method")
        .agg(pl.col(_READABILITY).max())
    )


def _measured(
    frame: pl.DataFrame,
    table: Table,
    registry: Registry,
    readable: pl.DataFrame,
    declared: Iterable[Contribution],
    settings: Uncertainty,
) -> pl.DataFrame:
    """Give the measured figures of a table their parts."""
    grain, method = table
    if grain in LONG or frame.is_empty():
        return frame
    columns: list[pl.Expr] = []
    for name in frame.columns:
        quantity, word = registry.quantity(name), method.value if method else None
        if quantity is None or quantity.kind != "number" or registry.home(table, name) != table:
            continue
        bearing = [each for each in declared if each.standard is not None and each.bears_on(name, word)]
        columns += _parts(quantity, bearing, grain, settings) if bearing else []
    if method is not None and any(_READABILITY in column.meta.root_names() for column in columns):
        own = readable.filter(pl.col("method") == method.value).drop("method")
        frame = frame.join(own, on=_SPECIMEN, how="left", maintain_order="left")
    else:
        frame = frame.with_columns(pl.lit(None, pl.Float64).alias(_READABILITY))
    return frame.with_columns(columns).drop(_READABILITY)


def _parts(quantity: Quantity, bearing: list[Contribution], grain: Grain, settings: Uncertainty) -> Iterator[pl.Expr]:
    name = quantity.name
    balance = [_standard(each) ** 2 for each in bearing if each.balance]
    other = [pl.lit((each.standard or 0.0) ** 2) for each in bearing if not each.balance]
    shared = _sum(balance) * _weighings(name, grain)
    r = settings.weighing_correlation
    total = (shared + _sum(other)).sqrt()
    if balance and r:
        yield (shared * r).sqrt().alias(_part(name, _BALANCE))
        yield (shared * (1 - r) + _sum(other)).sqrt().alias(_part(name, name))
    else:
        yield total.alias(_part(name, name))
    yield total.alias(f"{name}__u")


def _standard(contribution: Contribution) -> pl.Expr:
    stated = pl.lit(contribution.standard)
    return pl.coalesce(pl.col(_READABILITY) * (1 / sqrt(12)), stated) if contribution.name == READABILITY else stated


def _weighings(name: str, grain: Grain) -> pl.Expr:
    """Return how many weighings a mass is the sum of: one, or the sieves down to this one."""
    if grain is Grain.SPECIMEN_SIEVE and name.endswith("_cumulative"):
        return pl.col("sieve_mm").rank("ordinal", descending=True).over(_SPECIMEN).cast(pl.Float64)
    return pl.lit(1.0)


def _sum(parts: list[pl.Expr]) -> pl.Expr:
    return reduce(add, parts, pl.lit(0.0))


def _part(name: str, source: str) -> str:
    return f"{name}__u:{source}"


def _sources(columns: Iterable[str], name: str) -> dict[str, str]:
    """Return source -> column of a figure's parts."""
    prefix = _part(name, "")
    return {column.removeprefix(prefix): column for column in columns if column.startswith(prefix)}


def _node(
    frames: Frames, registry: Registry, node: Node, declared: Iterable[Contribution], settings: Uncertainty
) -> pl.DataFrame:
    """Give one property its parts: those of the route that gave the figure, row by row."""
    name = node.property.name
    if frames[node.table][name].null_count() == frames[node.table].height:
        return frames[node.table]
    frame = _reached(frames, registry, node)
    kept = frame.columns
    ways: dict[str, dict[str, str]] = {}
    for route in node.routes:
        if isinstance(route, Mean):
            frame, found = _of_mean(frame, frames[source_of(route)], route, settings)
        else:
            frame, found = _of_formula(frame, route, [each for each in declared if _owed(each, route)])
        ways[route.route] = found
    sources = list(dict.fromkeys(source for found in ways.values() for source in found))
    if not sources:
        return frames[node.table]
    chosen = [_chosen(name, source, ways) for source in sources]
    frame = frame.with_columns(chosen).select(*kept, *(column.meta.output_name() for column in chosen))
    squares = _sum([pl.col(_part(name, source)).fill_null(0.0) ** 2 for source in sources])
    known = pl.any_horizontal(pl.col(_part(name, source)).is_not_null() for source in sources)
    return frame.with_columns(pl.when(known & pl.col(name).is_not_null()).then(squares.sqrt()).alias(f"{name}__u"))


def _owed(contribution: Contribution, formula: Formula) -> bool:
    method = formula.method.value if formula.method else None
    takes = contribution.takes is None or contribution.takes in formula.inputs
    return takes and contribution.bears_on(formula.property.name, method)


def _chosen(name: str, source: str, ways: dict[str, dict[str, str]]) -> pl.Expr:
    result = pl.lit(None, pl.Float64)
    for route, found in ways.items():
        if source in found:
            result = pl.when(pl.col(f"{name}__route") == route).then(pl.col(found[source])).otherwise(result)
    return result.alias(_part(name, source))


def _reached(frames: Frames, registry: Registry, node: Node) -> pl.DataFrame:
    """Bring the parts of figures of coarser tables into the table of a node."""
    frame = frames[node.table]
    for name in dict.fromkeys(each for route in node.routes for each in _inputs(route)):
        quantity, home = registry.quantity(name), registry.home(node.table, name)
        if f"{name}__u" in frame.columns or home is None:
            continue
        if quantity is not None and quantity.picks:
            frame = _picked(frames, frame, name, *quantity.picks)
        elif home != node.table and f"{name}__u" in frames[home].columns:
            parts = [f"{name}__u", *_sources(frames[home].columns, name).values()]
            keys = list(home[0].keys)
            frame = frame.join(frames[home].select(*keys, *parts), on=keys, how="left", maintain_order="left")
    return spelt_out(frame)


def _inputs(route: Route) -> tuple[str, ...]:
    return () if isinstance(route, Mean) else tuple(route.column(name) for name in route.inputs)


def _picked(frames: Frames, frame: pl.DataFrame, name: str, prop: str, at: float) -> pl.DataFrame:
    source = frames[Grain.SAMPLE_SIEVE, None]
    if f"{prop}__u" not in source.columns:
        return frame
    place = source.filter((pl.col("sieve_mm") - at).abs() < 1e-6)
    total = pl.col(f"{prop}__u")
    parts = place.select("sample_id", total.alias(f"{name}__u"), total.alias(_part(name, name)))
    return frame.join(parts, on="sample_id", how="left", maintain_order="left")


def _of_formula(frame: pl.DataFrame, formula: Formula, own: list[Contribution]) -> tuple[pl.DataFrame, dict[str, str]]:
    """Return the frame with this route's parts, and source -> column of them."""
    columns = frame.columns
    defaults = dict(formula.defaults)
    given = [column_of(formula, name, columns) for name in formula.inputs]
    filled = [
        each.fill_null(defaults[name]) if name in defaults else each
        for name, each in zip(formula.inputs, given, strict=True)
    ]
    stem = f"@{label(formula)}"
    terms: dict[str, list[pl.Expr]] = {}
    slopes = []
    for place, name in enumerate(formula.inputs):
        column = formula.column(name)
        sources = _sources(columns, column)
        if not sources:
            continue
        slopes.append(_slope(formula, filled, place, pl.col(f"{column}__u")).alias(f"{stem}{place}"))
        for source, part in sources.items():
            terms.setdefault(source, []).append(pl.col(f"{stem}{place}") * pl.col(part).fill_null(0.0))
    for each in own:
        term = pl.lit(each.standard) if each.relative is None else pl.col(formula.property.name) * each.relative
        terms.setdefault(each.name, []).append(term)
    names = {source: f"{stem}{source}" for source in terms}
    parts = [_sum([each.fill_null(0.0) for each in found]).alias(names[source]) for source, found in terms.items()]
    return frame.with_columns(slopes).with_columns(parts), names


def _slope(formula: Formula, filled: list[pl.Expr], place: int, u: pl.Expr) -> pl.Expr:
    """Return the central difference of the formula's own expression in one input."""
    step = STEP * u

    def at(moved: pl.Expr) -> pl.Expr:
        return formula.expression(*filled[:place], moved, *filled[place + 1 :])

    # Multiplied by the reciprocal: a division by what is one number for all rows rounds otherwise than one by a column.
    slope = (at(filled[place] + step) - at(filled[place] - step)) * (1.0 / (2 * step))
    return pl.when(slope.is_finite()).then(slope)


def _of_mean(
    frame: pl.DataFrame, source: pl.DataFrame, mean: Mean, settings: Uncertainty
) -> tuple[pl.DataFrame, dict[str, str]]:
    """Combine what the specimens owe to balance and method with their spread over the root of their number."""
    own, of = f"{mean.property.name}@{mean.route}__u", mean.of.name
    squares = pl.col(f"{of}__u") ** 2 if f"{of}__u" in source.columns else pl.lit(None, pl.Float64)
    # Sorted, so that the sum is the same to the last digit from run to run.
    grouped = (
        source.filter(counting(mean))
        .group_by(mean.over, maintain_order=True)
        .agg(squares.drop_nulls().sort().alias("squares"), pl.col(of).sort().alias("values"))
        .with_columns(values=trimmed(pl.col("values"), mean))
        .with_columns(n=pl.col("values").list.len(), spread=pl.col("values").list.var())
    )
    owed = pl.col("squares").list.mean() / (1 if settings.specimens == "common" else pl.col("n"))
    scatter = pl.col("spread") / pl.col("n")
    known = owed.is_not_null() | scatter.is_not_null()
    total = pl.when(known).then((owed.fill_null(0.0) + scatter.fill_null(0.0)).sqrt())
    finished = grouped.select(*mean.over, total.alias(own))
    return frame.join(finished, on=list(mean.over), how="left", maintain_order="left"), {
        f"mean {mean.property.name}": own
    }
