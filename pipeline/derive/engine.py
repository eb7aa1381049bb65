"""Walks the registry's order: every property of a generation becomes columns of its table."""

from collections.abc import Iterable

import polars as pl

from pipeline.derive.calibrated import LAPSED
from pipeline.derive.means import averaged
from pipeline.derive.spelt_out import spelt_out
from pipeline.derive.tables import Prepared
from pipeline.derive.ways import CARRIED, chosen, column_of, nowhere, way_columns
from pipeline.formulas.model import LONG, Curve, Formula, Grain, Mean, Route, Table
from pipeline.formulas.registry import Node, Registry, required, source_of
from pipeline.settings import Results

Frames = dict[Table, pl.DataFrame]


def run(prepared: Prepared, registry: Registry, parameters: Results) -> Frames:
    """Return the tables with a column per property, and its aspects beside it."""
    frames = dict(prepared.tables)
    for table in {node.table for node in registry.nodes.values()}:
        if table not in frames:
            frames[table] = _bare(frames, registry, table)
    for generation in registry.order:
        for step in generation:
            if isinstance(step, Curve):
                series = frames[step.along[0]] if step.along else prepared.series[step.series]
                frames[step.table] = _curved(frames, series, registry, step, parameters)
            else:
                frames[step.table] = _derived(frames, registry, step, parameters)
    return frames


def _curved(
    frames: Frames, series: pl.DataFrame, registry: Registry, curve: Curve, parameters: Results
) -> pl.DataFrame:
    """Join the figures a procedure finds in the series of each specimen to the table of the specimens."""
    if frames[curve.table].is_empty():
        figures = [column for each in curve.gives for column in _empty(each.name)]
        return frames[curve.table].with_columns(figures)
    keys = list(curve.table[0].keys)
    specimens = _reach(frames, registry, curve.table, curve.needs)
    found = curve.function(series, specimens.select(*keys, *curve.needs), parameters)
    return frames[curve.table].join(found, on=keys, how="left", maintain_order="left")


def _empty(name: str) -> tuple[pl.Expr, pl.Expr]:
    return pl.lit(None, pl.Float64).alias(name), pl.lit(None, pl.String).alias(f"{name}__why")


def _bare(frames: Frames, registry: Registry, table: Table) -> pl.DataFrame:
    """Return the rows of a table that only means fill, such as sample by sieve."""
    keys = list(table[0].keys)
    means = [route for node in registry.nodes.values() if node.table == table for route in node.routes]
    found = [frames[source_of(route)].select(*keys, "material") for route in means if isinstance(route, Mean)]
    return pl.concat(found).unique(keys).sort(keys)


def _derived(frames: Frames, registry: Registry, node: Node, parameters: Results) -> pl.DataFrame:
    # Most samples have few kinds of tests: a table without rows costs nothing.
    if frames[node.table].is_empty() and node.table[0] not in LONG:
        return frames[node.table].with_columns(nowhere(node.property.name))
    names = dict.fromkeys(name for route in node.routes for name in required(route))
    frame = _reach(frames, registry, node.table, names)
    if node.table[0] in LONG:
        return _curve(frame, node)
    ordered = sorted(node.routes, key=lambda route: not _first(route, parameters))
    routes = [route for route in ordered if _called_for(route, frame, frames)]
    if not routes:
        return frame.with_columns(nowhere(node.property.name))
    for route in routes:
        if isinstance(route, Mean):
            frame = averaged(frames[source_of(route)], frame, route, registry.bits)
    present = frame.columns
    ways = [way_columns(route, number, registry, present, parameters) for number, route in enumerate(routes)]
    frame = frame.with_columns(column for way in ways for column in way)
    kept = [column for column in present if "@" not in column]
    found = chosen(node.property.name, routes)
    return frame.with_columns(found).select(*kept, *(column.meta.output_name() for column in found))


def _first(route: Route, parameters: Results) -> bool:
    return route.first_by is not None and getattr(parameters, route.first_by) == route.route


def _called_for(route: Route, frame: pl.DataFrame, frames: Frames) -> bool:
    """Return whether any row may need this way: most batches hold records of a few methods only."""
    source, names = frame, [route.of.name] if isinstance(route, Mean) else [route.column(n) for n in route.leading]
    if isinstance(route, Mean):
        source = frames[source_of(route)]
    columns = [column for name in names for column in (name, f"{name}__why") if column in source.columns]
    return any(source[column].null_count() < source.height for column in columns)


def _curve(frame: pl.DataFrame, node: Node) -> pl.DataFrame:
    """Derive a figure of every gyration: a long series has neither reasons nor flags, its specimen has them."""
    (route,) = (route for route in node.routes if isinstance(route, Formula))
    value = route.expression(*(column_of(route, name, frame.columns) for name in route.inputs))
    return frame.with_columns(pl.when(value.is_finite()).then(value).alias(node.property.name))


def _reach(frames: Frames, registry: Registry, table: Table, names: Iterable[str]) -> pl.DataFrame:
    """Bring figures of coarser tables into a finer one; every row of the specimen or sample gets them."""
    frame = frames[table]
    wanted: dict[Table, list[str]] = {}
    for name in names:
        quantity, home = registry.quantity(name), registry.home(table, name)
        if name in frame.columns or home is None:
            continue
        if quantity is not None and quantity.picks:
            frame = _picked(frames, frame, name, *quantity.picks)
        elif home != table and name in frames[home].columns:
            wanted.setdefault(home, []).append(name)
    for home, found in wanted.items():
        present = frames[home].columns
        columns = [
            column
            for name in found
            for column in (name, *(f"{name}__{aspect}" for aspect in (*CARRIED, LAPSED)))
            if column in present
        ]
        keys = list(home[0].keys)
        frame = frame.join(frames[home].select(*keys, *columns), on=keys, how="left", maintain_order="left")
    return spelt_out(frame)


def _picked(frames: Frames, frame: pl.DataFrame, name: str, prop: str, at: float) -> pl.DataFrame:
    renamed = {f"{prop}__{aspect}": f"{name}__{aspect}" for aspect in CARRIED} | {prop: name}
    place = frames[Grain.SAMPLE_SIEVE, None].filter((pl.col("sieve_mm") - at).abs() < 1e-6)
    return frame.join(
        place.select("sample_id", *renamed).rename(renamed), on="sample_id", how="left", maintain_order="left"
    )
