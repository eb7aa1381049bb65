"""A property from values given: the first way whose inputs are given or follow, with its steps and its checks."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from math import isfinite

import polars as pl

from pipeline.formulas import registry
from pipeline.formulas.model import Check, Formula
from pipeline.formulas.t308 import PB, PS
from pipeline.rounding import round_text


class ComputeError(ValueError):
    """A figure that cannot be computed; the message says why and what would help."""


class UnknownNameError(ComputeError):
    """A property or an input no formula knows."""


class MissingInputsError(ComputeError):
    """No route has all its inputs; the message lists the routes and what each still needs."""


class ContradictionError(ComputeError):
    """Values given that cannot all be true."""


@dataclass(frozen=True)
class Found:
    """Value of a name, the lines that led to it, and the checks that do not hold."""

    value: float
    steps: tuple[str, ...] = ()
    broken: tuple[Check, ...] = ()
    formula: Formula | None = None


def by_hand(limits: Mapping[str, float] | None = None) -> tuple[Formula, ...]:
    """Return the formulas a person may want, with the bounds of their checks where `limits` differ.

    One that passes its only input through is none.
    """
    return _by_hand(tuple(sorted((limits or {}).items())))


@cache
def _by_hand(limits: tuple[tuple[str, float], ...]) -> tuple[Formula, ...]:
    catalogue = registry.load(dict(limits))
    return tuple(
        formula
        for formula in catalogue.formulas
        if catalogue.property(formula.inputs[0]) in (PB, PS) or not _passes_through(formula)
    )


@cache
def _passes_through(formula: Formula) -> bool:
    if len(formula.inputs) > 1:
        return False
    return all(pl.select(formula.expression(pl.lit(value))).item() == value for value in (2.25, 3.5))


def routes(name: str, ways: Sequence[Formula]) -> list[Formula]:
    """Return the formulas among `ways` by which a property can be computed."""
    return [formula for formula in ways if formula.property.name == name]


def solve(
    name: str,
    given: Mapping[str, float],
    ways: Sequence[Formula],
    asked: frozenset[str] = frozenset(),
    *,
    top: bool = False,
) -> Found | None:
    """Find a value: as given, or by the first of the ways whose inputs are given or follow (`asked` bars circles)."""
    if name in given and not top:
        return Found(given[name])
    if name in asked:
        return None
    # A route whose inputs all stand among the values is preferred to one that has to derive some.
    for formula in sorted(routes(name, ways), key=lambda each: not _direct(each, given)):
        inputs = _inputs(formula, given)
        if inputs is None:
            continue
        found = {each: _solve_input(formula, each, given, ways, asked | {name}) for each in inputs}
        complete = {each: value for each, value in found.items() if value is not None}
        if len(complete) == len(found):
            return apply(formula, complete, given)
    return None


def _direct(formula: Formula, given: Mapping[str, float]) -> bool:
    defaults = dict(formula.defaults)
    return all(name in given or name in defaults for name in _inputs(formula, given) or ("",))


def _solve_input(
    formula: Formula, name: str, given: Mapping[str, float], ways: Sequence[Formula], asked: frozenset[str]
) -> Found | None:
    defaults = dict(formula.defaults)
    found = solve(name, given, ways, asked)
    return Found(defaults[name]) if found is None and name in defaults else found


def _inputs(formula: Formula, given: Mapping[str, float]) -> tuple[str, ...] | None:
    """Return the names a route needs; of numbered groups those given, or None where there is no whole group."""
    if not formula.variadic:
        return formula.inputs
    single = tuple(name for name in formula.inputs if not any(_numbered(stem, name) for stem in formula.variadic))
    numbers = sorted({int(name[len(stem) :]) for stem in formula.variadic for name in given if _numbered(stem, name)})
    names = tuple(f"{stem}{number}" for number in numbers for stem in formula.variadic)
    lacking = [name for name in names if name not in given]
    if lacking:
        together = " and ".join(f"{stem}{numbers[0]}" for stem in formula.variadic)
        raise MissingInputsError(
            f"{formula.property.name}: {', '.join(lacking)} missing: {together} belong together, and so do the others"
        )
    # One whole group fewer than declared may still do; none may not.
    return (*names, *single) if names else None


def _numbered(stem: str, name: str) -> bool:
    return re.fullmatch(rf"{stem}[1-9][0-9]?", name) is not None


def apply(formula: Formula, inputs: Mapping[str, Found], given: Mapping[str, float]) -> Found:
    """Evaluate a formula and its checks on one row.

    Raises
    ------
    ContradictionError
        When a check that withholds the figure does not hold, or there is no finite figure.
    """
    values = {name: found.value for name, found in inputs.items()}
    expression = formula.expression(*(pl.col(name) for name in inputs))
    value = pl.DataFrame({name: [number] for name, number in values.items()}).select(expression).item()
    broken = _broken(formula, {**given, **values, formula.property.name: value})
    for check in broken:
        if check.effect == "withhold":
            raise ContradictionError(f"{formula.property.name}: {check.sentence} ({check.limit_text} is required)")
    if value is None or not isfinite(value):
        raise ContradictionError(f"{formula.property.name}: {formula.equation} gives no finite number for these values")
    used = ", ".join(f"{name} = {number:.7g}" for name, number in values.items())
    unit = f" {formula.property.unit}" if formula.property.unit else ""
    shown = round_text(value, formula.property.decimals + 2)
    line = f"{formula.property.symbol} = {shown}{unit}   by {formula.equation}   from {used}"
    earlier = [step for found in inputs.values() for step in found.steps]
    inherited = [check for found in inputs.values() for check in found.broken]
    return Found(value, tuple(dict.fromkeys([*earlier, line])), (*inherited, *broken), formula)


def _broken(formula: Formula, known: Mapping[str, float | None]) -> tuple[Check, ...]:
    names = {name for check in formula.checks for name in check.inputs}
    row = pl.DataFrame({name: [known.get(name)] for name in names}, schema=dict.fromkeys(names, pl.Float64))
    return tuple(
        check
        for check in formula.checks
        # What was not given by hand was not recorded by a machine either: no reproach.
        if set(check.inputs) & known.keys()
        and not row.select(check.kept(*(pl.col(name) for name in check.inputs)).fill_null(True)).item()
    )
