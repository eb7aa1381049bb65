"""One property by hand, over the same expressions as derived results."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from difflib import get_close_matches
from functools import cache
from math import isfinite
from typing import NamedTuple

import polars as pl

from pipeline.formulas import registry
from pipeline.formulas.model import Check, Formula, Property
from pipeline.formulas.t308 import PB, PS
from pipeline.rounding import Rule, round_text
from pipeline.uncertainty.propagation import Inputs, propagate

#: Figures given that follow from others given must agree to so many units of the last reported decimal.
_AGREEMENT = 2.0


class ComputeError(ValueError):
    """A figure that cannot be computed; the message says why and what would help."""


class UnknownNameError(ComputeError):
    """A property or an input no formula knows."""


class MissingInputsError(ComputeError):
    """No route has all its inputs; the message lists the routes and what each still needs."""


class ContradictionError(ComputeError):
    """Values given that cannot all be true."""


class Share(NamedTuple):
    """What one input contributes to an uncertainty: sensitivity times standard uncertainty, with its sign."""

    input: str
    uncertainty: float
    sensitivity: float
    contribution: float


@dataclass(frozen=True)
class Computed:
    """A property computed by hand.

    Attributes
    ----------
    property, symbol, title, unit
        What it is.
    value
        The figure, unrounded, in `unit`.
    shown, text
        With one decimal more than reported, and as reported (ASTM E29).
    equation, standard, section, route
        Where it comes from.
    steps
        One line per formula used, the last one for the property itself.
    flags
        Sentences of the validity checks that do not hold.
    codes
        Codes of the same checks.
    rule
        What became of an exact half in `shown` and `text`.
    uncertainty, uncertainty_shown
        Standard uncertainty in `unit`, and as shown; None where no uncertainty of an input was given.
    budget
        What each input with an uncertainty contributes.
    """

    property: str
    symbol: str
    title: str
    unit: str | None
    value: float
    shown: str
    text: str
    equation: str
    standard: str
    section: str
    route: str
    steps: tuple[str, ...]
    flags: tuple[str, ...]
    codes: tuple[str, ...]
    rule: str = Rule.HALF_EVEN.value
    uncertainty: float | None = None
    uncertainty_shown: str | None = None
    budget: tuple[Share, ...] = ()

    def as_dict(self) -> dict[str, object]:
        """Return the result as plain values."""
        return asdict(self) | {"budget": [each._asdict() for each in self.budget]}


@dataclass(frozen=True)
class _Found:
    """Value of a name, the lines that led to it, and the checks that do not hold."""

    value: float
    steps: tuple[str, ...] = ()
    broken: tuple[Check, ...] = ()
    formula: Formula | None = None


def compute(
    property: str,
    values: Mapping[str, float] | None = None,
    *,
    rule: Rule = Rule.HALF_EVEN,
    uncertainties: Mapping[str, float] | None = None,
    **named: float,
) -> Computed:
    """Compute one property from values given by hand; inputs that follow from others may be left out.

    Parameters
    ----------
    property
        Registry name, such as `air_voids`.
    values, named
        Inputs by registry name, in registry units; percentages as 5.3, not 0.053. The gravity of a blend takes
        any number of pairs p1, g1, p2, g2 …
    rule
        What becomes of an exact half in `shown` and `text`.
    uncertainties
        Standard uncertainties of values given, in their units; the others count as exact.

    Raises
    ------
    UnknownNameError
        For a property or input nobody knows, with near names; for an uncertainty of a value that is not given.
    MissingInputsError
        When no route has its inputs.
    ContradictionError
        When the values contradict each other.

    Examples
    --------
    >>> compute("air_voids", gmb=2.442, gmm=2.535).shown
    '3.67'
    >>> compute("vma", gmb=2.442, ps=94.7, gsb=2.703).text
    '14.4'
    """
    given = {name: float(value) for name, value in {**(values or {}), **named}.items()}
    wanted = _wanted(property)
    _known(given)
    _agreeing(given, wanted)
    found = _solve(wanted.name, given, frozenset(), top=True)
    if found is None or found.formula is None:
        raise MissingInputsError(_lacking(wanted, given))
    done = _told_in_full(found, found.formula, rule)
    return _with_uncertainty(done, given, uncertainties, found.formula) if uncertainties else done


def _with_uncertainty(
    done: Computed, given: Mapping[str, float], uncertainties: Mapping[str, float], formula: Formula
) -> Computed:
    for name, u in uncertainties.items():
        if name not in given:
            raise UnknownNameError(f"an uncertainty of '{name}' is given, but no value: add {name}=…")
        if not (isfinite(u) and u >= 0):
            raise ContradictionError(f"the uncertainty of {name} must be a number from 0 up, not {u:g}")

    def at(values: Mapping[str, float]) -> float:
        moved = _solve(done.property, values, frozenset(), top=True)
        if moved is None:  # the names are those of the figure itself, which was found
            raise MissingInputsError(_lacking(formula.property, values))
        return moved.value

    found = propagate(at, Inputs(given, uncertainties))
    budget = tuple(
        Share(name, uncertainties[name], found.sensitivities[name], part) for name, part in found.contributions.items()
    )
    shown = round_text(found.standard, formula.property.decimals + 3, Rule(done.rule))
    return replace(done, uncertainty=found.standard, uncertainty_shown=shown, budget=budget)


def _told_in_full(found: _Found, formula: Formula, rule: Rule) -> Computed:
    prop = formula.property
    return Computed(
        property=prop.name,
        symbol=prop.symbol,
        title=prop.title,
        unit=prop.unit,
        value=found.value,
        shown=round_text(found.value, prop.decimals + 1, rule),
        text=round_text(found.value, prop.decimals, rule),
        equation=formula.equation,
        standard=formula.standard,
        section=formula.section,
        route=formula.route,
        steps=found.steps,
        flags=tuple(dict.fromkeys(f"{check.sentence} ({check.limit_text})" for check in found.broken)),
        codes=tuple(dict.fromkeys(check.code for check in found.broken)),
        rule=rule.value,
    )


def list_properties() -> list[dict[str, object]]:
    """Return every property that can be computed by hand: property, symbol, title, unit, inputs, standard, equation.

    One row per route; methods that share one show it once.
    """
    rows: list[dict[str, object]] = [
        {
            "property": formula.property.name,
            "symbol": formula.property.symbol,
            "title": formula.property.title,
            "unit": formula.property.unit or "",
            "inputs": _inputs_text(formula),
            "standard": formula.standard,
            "equation": formula.equation,
        }
        for formula in sorted(_by_hand(), key=lambda each: each.property.name)
    ]
    return [row for position, row in enumerate(rows) if row not in rows[:position]]


@cache
def _by_hand() -> tuple[Formula, ...]:
    """Return the formulas a person may want; one that passes its only input through is none."""
    catalogue = registry.load()
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


def _routes(name: str) -> list[Formula]:
    return [formula for formula in _by_hand() if formula.property.name == name]


def _wanted(name: str) -> Property:
    names = sorted({formula.property.name for formula in _by_hand()})
    if name not in names:
        raise UnknownNameError(f"'{name}' is not a property that can be computed.{_near(name, names)}")
    return _routes(name)[0].property


def _near(name: str, names: Iterable[str]) -> str:
    near = get_close_matches(name.lower(), list(names), n=3, cutoff=0.5)
    return f" Did you mean {' or '.join(near)}?" if near else f" Known: {', '.join(sorted(names))}."


def _known(given: Mapping[str, float]) -> None:
    names = {name for formula in _by_hand() for name in (*formula.inputs, formula.property.name)}
    names |= {name for formula in _by_hand() for check in formula.checks for name in check.inputs}
    stems = {stem for formula in _by_hand() for stem in formula.variadic}
    for name, value in given.items():
        numbered = re.fullmatch(r"([a-z]+)[1-9][0-9]?", name)
        if name not in names and not (numbered and numbered[1] in stems):
            raise UnknownNameError(f"'{name}' is not an input of any formula.{_near(name, names)}")
        if not isfinite(value):
            raise ContradictionError(f"{name} = {value} is not a number that can be measured")


def _agreeing(given: Mapping[str, float], wanted: Property) -> None:
    """Refuse a value given that does not follow from the others, where it would have to."""
    catalogue = registry.load()
    for name in given:
        prop = catalogue.property(name)
        if prop is None or name == wanted.name:
            continue
        others = {other: value for other, value in given.items() if other != name}
        for formula in _routes(name):
            if not set(formula.inputs) <= others.keys():
                continue
            found = _apply(formula, {each: _Found(others[each]) for each in formula.inputs}, others)
            if abs(found.value - given[name]) > _AGREEMENT * 10.0**-prop.decimals:
                computed = round_text(found.value, prop.decimals + 1)
                raise ContradictionError(
                    f"{name} = {given[name]:g} does not follow from {_listed(formula, others)}: "
                    f"{formula.equation} gives {computed}. Leave out one of them, or correct it."
                )


def _listed(formula: Formula, given: Mapping[str, float]) -> str:
    return ", ".join(f"{name} = {given[name]:g}" for name in formula.inputs)


def _solve(name: str, given: Mapping[str, float], asked: frozenset[str], *, top: bool = False) -> _Found | None:
    """Find a value: as given, or by the first route whose inputs are given or follow (`asked` bars circles)."""
    if name in given and not top:
        return _Found(given[name])
    if name in asked:
        return None
    # A route whose inputs all stand among the values is preferred to one that has to derive some.
    for formula in sorted(_routes(name), key=lambda each: not _direct(each, given)):
        inputs = _inputs(formula, given)
        if inputs is None:
            continue
        found = {each: _solve_input(formula, each, given, asked | {name}) for each in inputs}
        complete = {each: value for each, value in found.items() if value is not None}
        if len(complete) == len(found):
            return _apply(formula, complete, given)
    return None


def _direct(formula: Formula, given: Mapping[str, float]) -> bool:
    defaults = dict(formula.defaults)
    return all(name in given or name in defaults for name in _inputs(formula, given) or ("",))


def _solve_input(formula: Formula, name: str, given: Mapping[str, float], asked: frozenset[str]) -> _Found | None:
    defaults = dict(formula.defaults)
    found = _solve(name, given, asked)
    return _Found(defaults[name]) if found is None and name in defaults else found


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


def _apply(formula: Formula, inputs: Mapping[str, _Found], given: Mapping[str, float]) -> _Found:
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
    return _Found(value, tuple(dict.fromkeys([*earlier, line])), (*inherited, *broken), formula)


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


def _inputs_text(formula: Formula) -> str:
    defaults = dict(formula.defaults)
    names = [f"[{name}]" if name in defaults else name for name in formula.inputs]
    return " ".join([*names, "…"] if formula.variadic else names)


def _lacking(wanted: Property, given: Mapping[str, float]) -> str:
    lines: list[tuple[int, str]] = []
    for formula in _routes(wanted.name):
        defaults = dict(formula.defaults)
        lacking = [name for name in formula.inputs if name not in given and name not in defaults]
        told = f"  {_inputs_text(formula)}   missing: {'; '.join(_told(name) for name in lacking)}"
        lines.append((len(lacking), told))
    # The nearest way first.
    ways = "\n".join(dict.fromkeys(told for _, told in sorted(lines, key=lambda each: each[0])))
    return f"{wanted.name}: not enough is given. Any one of these sets of inputs will do:\n{ways}"


def _told(name: str) -> str:
    catalogue = registry.load()
    found = catalogue.quantity(name) or catalogue.property(name)
    return f"{name} ({found.title})" if found is not None else name
