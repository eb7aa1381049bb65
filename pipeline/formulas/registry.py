"""Finds the formulas by walking the package, checks them, and gives order, versions and catalogues."""

import hashlib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, replace
from functools import cache
from graphlib import CycleError, TopologicalSorter
from importlib import import_module
from pkgutil import iter_modules

import polars as pl

import pipeline.formulas
from pipeline.formulas import bounds, catalogue
from pipeline.formulas.calibration import LAPSED
from pipeline.formulas.model import (
    Check,
    Curve,
    Formula,
    Grain,
    Mean,
    Property,
    Quantity,
    Route,
    Table,
    family,
)
from schemas.vocabulary import Level

#: Type of a mask of flags, one bit per code of a check, and how many it holds beside the sign.
MASK = pl.Int128()
MASK_BITS = 126


class RegistryError(ValueError):
    """A declaration that contradicts itself or another; the message names it."""


@dataclass(frozen=True)
class Node:
    """One property in one table, with its routes in order of preference."""

    table: Table
    property: Property
    routes: tuple[Route, ...]


@dataclass(frozen=True)
class Registry:
    """All declarations, checked.

    Attributes
    ----------
    formulas, means, quantities
        Declarations in the order in which the modules state them.
    nodes
        (table, property name) -> what is derived there from records.
    order
        Generations of nodes: every node rests on earlier generations only.
    curves
        Procedures over long series; each takes its place in the order.
    bits
        Code of a check -> its bit in a mask of flags.
    """

    formulas: tuple[Formula, ...]
    means: tuple[Mean, ...]
    quantities: tuple[Quantity, ...]
    nodes: dict[tuple[Table, str], Node]
    order: tuple[tuple[Node | Curve, ...], ...]
    bits: dict[str, int]
    curves: tuple[Curve, ...] = ()

    @property
    def routes(self) -> tuple[Route, ...]:
        """Formulas and means."""
        return (*self.formulas, *self.means)

    def property(self, name: str) -> Property | None:
        """Return the property of that name."""
        return next((route.property for route in self.routes if route.property.name == name), None)

    def quantity(self, name: str) -> Quantity | None:
        """Return the measured or registered figure of that name."""
        return next((each for each in self.quantities if each.name == name), None)

    def checks(self) -> tuple[Check, ...]:
        """Return every check once; the last holds for all figures."""
        return (*dict.fromkeys(check for route in self.routes for check in route.checks), LAPSED)

    def stand_ins(self) -> dict[str, str]:
        """Return flag -> property of figures that stand in for a test that was not made."""
        return {
            check.code: route.property.name
            for route in self.routes
            for check in route.checks
            if check.effect == "stand_in"
        }

    def properties(self) -> pl.DataFrame:
        """Catalogue of properties for the warehouse: one row per property."""
        return catalogue.properties(self.routes)

    def decimals(self) -> pl.DataFrame:
        """Reporting decimals: `property`, `at` (null: everywhere else), `decimals`."""
        return catalogue.decimals(self.routes)

    def flags(self) -> pl.DataFrame:
        """Catalogue of flags: one row per code."""
        return catalogue.flags(self.checks())

    def wide_columns(self) -> pl.DataFrame:
        """Columns of the wide view of sample results: `property`, `at`, `column_name`, `sentence`, `unit`."""
        return catalogue.wide_columns(self.routes)

    def formula_rows(self) -> pl.DataFrame:
        """Every formula with route, version, equation, inputs and precision, for explanation."""
        return catalogue.formulas((route, version(route)) for route in self.routes)

    def given(self) -> "dict[tuple[Table, str], Curve]":
        """Return (table, name) -> curve of every figure that curves give."""
        return {(curve.table, each.name): curve for curve in self.curves for each in curve.gives}

    def home(self, table: Table, name: str) -> Table | None:
        """Return the nearest table that holds a figure, from this one outward; None where there is none."""
        here: Table | None = table
        while here is not None:
            if (here, name) in self.nodes or self._measured(here, name):
                return here
            grain, method = here
            if grain is Grain.SAMPLE:
                return None
            here = (grain.parent, method if grain.parent is Grain.SPECIMEN else None)
        return None

    def _measured(self, table: Table, name: str) -> bool:
        quantity = self.quantity(name)
        if quantity is None or quantity.grain is not table[0]:
            return False
        return quantity.method is None or family(quantity.method) == table[1]


def table_of(route: Route) -> Table:
    """Return the table in which a route's figures stand."""
    if route.grain.level is Level.SAMPLE:
        return route.grain, None
    if route.method is None:
        raise RegistryError(f"{label(route)}: figures of specimens need the method whose records give them")
    return route.grain, family(route.method)


def source_of(mean: Mean) -> Table:
    """Return the table whose figures a mean averages."""
    if mean.of_grain.level is Level.SAMPLE:
        return mean.of_grain, None
    if mean.method is None:
        raise RegistryError(f"{label(mean)}: a mean of specimens needs their method")
    return mean.of_grain, family(mean.method)


def label(route: Route) -> str:
    """Name a route for messages: property, grain and route."""
    return f"{route.property.name} ({route.grain.value}, {route.route})"


def arguments(names: Iterable[str]) -> list[pl.Expr]:
    """Return columns of these names."""
    return [pl.col(name) for name in names]


@cache
def version(route: Route) -> str:
    """Return the hash of a route's declaration: it changes when the figures may."""
    stated = [
        f"{field.name}={_stated(getattr(route, field.name))}" for field in fields(route) if field.name != "expression"
    ]
    if isinstance(route, Formula):
        stated.append(f"expression={route.expression(*arguments(route.inputs))}")
    return hashlib.sha256("\n".join(stated).encode()).hexdigest()[:16]


def _stated(value: object) -> str:
    if isinstance(value, Check):
        return f"{value.code}|{value.sentence}|{value.limit_text}|{value.effect}|{value.kept(*arguments(value.inputs))}"
    if isinstance(value, tuple):
        return ",".join(_stated(each) for each in value)
    return str(value)


def required(route: Route) -> tuple[str, ...]:
    """Return the columns a route reads in its own or a coarser table, conditions and checks included."""
    if isinstance(route, Mean):
        return ()
    names = [route.column(name) for name in (*route.inputs, *route.leading)]
    for check in route.checks:
        names += [route.column(name) for name in check.inputs if name != route.property.name]
    names += route.states
    if route.applies is not None:
        names += route.applies.meta.root_names()
    return tuple(dict.fromkeys(names))


def load(limits: Mapping[str, float] | None = None) -> Registry:
    """Walk the package and return the checked registry.

    Parameters
    ----------
    limits
        Bounds of checks that differ from those declared, by name.

    Raises
    ------
    RegistryError
        Naming the declaration at fault.
    SettingsError
        When there is no bound of such a name.
    """
    return _load(tuple(sorted((limits or {}).items())))


@cache
def _load(limits: tuple[tuple[str, float], ...]) -> Registry:
    return build(bounds.replaced(_walk(), dict(limits)))


def build(declared: Iterable[object]) -> Registry:
    """Check declarations (formulas, means, quantities) and put them in order."""
    stated = list(declared)
    formulas = tuple(each for each in stated if isinstance(each, Formula))
    means = tuple(each for each in stated if isinstance(each, Mean))
    curves = tuple(each for each in stated if isinstance(each, Curve))
    # Procedures of several methods may give the same figure, each to its own table.
    given = dict.fromkeys(each for curve in curves for each in curve.gives)
    quantities = (*(each for each in stated if isinstance(each, Quantity) and each not in given), *given)
    _unique(formulas, means, quantities)
    for formula in formulas:
        prove(formula)
    nodes = _nodes(stated)
    bits = _bits((*formulas, *means))
    bare = Registry(formulas, means, quantities, nodes, (), bits, curves)
    return replace(bare, order=_order(bare))


def _bits(routes: tuple[Route, ...]) -> dict[str, int]:
    """Give every code its bit; a code has one sentence and one effect, whatever the limits under it."""
    checks = [*(check for route in routes for check in route.checks), LAPSED]
    codes = dict.fromkeys(check.code for check in checks)
    said = Counter(code for code, *_ in {(check.code, check.effect, check.sentence) for check in checks})
    if twice := sorted(code for code, times in said.items() if times > 1):
        raise RegistryError(f"a code of a check is used with two effects or two sentences: {', '.join(twice)}")
    if len(codes) > MASK_BITS:
        raise RegistryError(f"more than {MASK_BITS} codes of checks: a mask of flags holds no more")
    return {code: 1 << position for position, code in enumerate(codes)}


def prove(formula: Formula) -> None:
    """Prove that a formula reads its declared inputs, and nothing else."""
    expression = formula.expression(*arguments(formula.inputs))
    read = set(expression.meta.root_names())
    if expression.meta.has_multiple_outputs():
        raise RegistryError(f"{label(formula)}: reads columns by pattern, so its inputs cannot be told")
    if read != set(formula.inputs):
        raise RegistryError(f"{label(formula)}: declares {sorted(formula.inputs)} but reads {sorted(read)}")
    frame = pl.DataFrame({name: [1.0] for name in formula.inputs})
    try:
        frame.select(expression)
    except pl.exceptions.PolarsError as fault:
        raise RegistryError(f"{label(formula)}: does not run on its declared inputs: {fault}") from fault


def _walk() -> Iterator[object]:
    found: dict[int, object] = {}
    for module_info in iter_modules(pipeline.formulas.__path__, "pipeline.formulas."):
        if module_info.name == __name__:
            continue
        module = import_module(module_info.name)
        for name, value in vars(module).items():
            if name.isupper():
                # One module may import another's declaration: by identity, each counts once.
                found |= {id(each): each for each in (value if isinstance(value, tuple) else (value,))}
    yield from found.values()


def _unique(formulas: Iterable[Formula], means: Iterable[Mean], quantities: Iterable[Quantity]) -> None:
    seen: set[tuple[str, ...]] = set()
    stated: dict[str, Property] = {}
    routes: tuple[Route, ...] = (*formulas, *means)
    for route in routes:
        key = (route.property.name, route.grain.value, route.route)
        if key in seen:
            raise RegistryError(f"{label(route)}: stated twice")
        seen.add(key)
        if stated.setdefault(route.property.name, route.property) != route.property:
            raise RegistryError(f"{label(route)}: two different properties are named '{route.property.name}'")
    names = [quantity.name for quantity in quantities]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise RegistryError(f"stated twice: {', '.join(twice)}")


def _nodes(stated: Iterable[object]) -> dict[tuple[Table, str], Node]:
    grouped: dict[tuple[Table, str], list[Route]] = {}
    for each in stated:
        if isinstance(each, Mean) or (isinstance(each, Formula) and not each.by_hand_only):
            grouped.setdefault((table_of(each), each.property.name), []).append(each)
    return {key: Node(key[0], routes[0].property, tuple(routes)) for key, routes in grouped.items()}


def _order(registry: Registry) -> tuple[tuple[Node | Curve, ...], ...]:
    sorter: TopologicalSorter[tuple[Table, str]] = TopologicalSorter()
    steps: dict[tuple[Table, str], Node | Curve] = dict(registry.nodes)
    for key, node in registry.nodes.items():
        sorter.add(key, *_rests_on(registry, node))
    for key, curve in registry.given().items():
        steps[key] = curve
        read = (curve.along,) if curve.along else ()
        sorter.add(key, *_found(registry, curve.table, curve.needs, curve.name), *read)
    try:
        sorter.prepare()
    except CycleError as fault:
        members = " -> ".join(name for _, name in reversed(fault.args[1]))
        raise RegistryError(f"these properties rest on each other: {members}") from fault
    generations = []
    while sorter.is_active():
        ready = sorter.get_ready()
        # A curve gives several figures, and takes its place once.
        generations.append(tuple({id(steps[key]): steps[key] for key in ready}.values()))
        sorter.done(*ready)
    return tuple(generations)


def _rests_on(registry: Registry, node: Node) -> Iterator[tuple[Table, str]]:
    for route in node.routes:
        if isinstance(route, Mean):
            source = source_of(route)
            yield from ((source, name) for name in (route.of.name, route.counted_by) if name is not None)
        yield from _found(registry, node.table, required(route), label(route))


def _found(registry: Registry, table: Table, names: Iterable[str], reader: str) -> Iterator[tuple[Table, str]]:
    """Return where figures read in a table are derived; those that are measured have no place in the order."""
    given = registry.given()
    for name in names:
        home = registry.home(table, name)
        quantity = registry.quantity(name)
        if home is None and name not in ("material",):
            raise RegistryError(f"{reader}: no table within reach holds '{name}'")
        if home is not None and ((home, name) in registry.nodes or (home, name) in given):
            yield home, name
        elif quantity is not None and quantity.picks:
            yield (Grain.SAMPLE_SIEVE, None), quantity.picks[0]
