"""One property by hand, over the same expressions as derived results."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from difflib import get_close_matches
from math import isfinite
from typing import NamedTuple

from pipeline.formulas import registry
from pipeline.formulas.model import Formula, Property
from pipeline.rounding import Rule, round_text
from pipeline.solving import (
    ContradictionError,
    Found,
    MissingInputsError,
    UnknownNameError,
    apply,
    by_hand,
    routes,
    solve,
)
from pipeline.uncertainty.propagation import Inputs, propagate

#: Figures given that follow from others given must agree to so many units of the last reported decimal.
_AGREEMENT = 2.0


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


def compute(
    property: str,
    values: Mapping[str, float] | None = None,
    *,
    rule: Rule = Rule.HALF_EVEN,
    uncertainties: Mapping[str, float] | None = None,
    limits: Mapping[str, float] | None = None,
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
    limits
        Bounds of checks that differ from those declared, by name, as under `[results.limits]` of a workspace.

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
    ways = by_hand(limits)
    _known(given)
    _agreeing(given, wanted, ways)
    found = solve(wanted.name, given, ways, top=True)
    if found is None or found.formula is None:
        raise MissingInputsError(_lacking(wanted, given))
    done = _told_in_full(found, found.formula, rule)
    return _with_uncertainty(done, given, uncertainties, found.formula, ways) if uncertainties else done


def _with_uncertainty(
    done: Computed,
    given: Mapping[str, float],
    uncertainties: Mapping[str, float],
    formula: Formula,
    ways: Sequence[Formula],
) -> Computed:
    for name, u in uncertainties.items():
        if name not in given:
            raise UnknownNameError(f"an uncertainty of '{name}' is given, but no value: add {name}=…")
        if not (isfinite(u) and u >= 0):
            raise ContradictionError(f"the uncertainty of {name} must be a number from 0 up, not {u:g}")

    def at(values: Mapping[str, float]) -> float:
        moved = solve(done.property, values, ways, top=True)
        if moved is None:  # the names are those of the figure itself, which was found
            raise MissingInputsError(_lacking(formula.property, values))
        return moved.value

    found = propagate(at, Inputs(given, uncertainties))
    budget = tuple(
        Share(name, uncertainties[name], found.sensitivities[name], part) for name, part in found.contributions.items()
    )
    shown = round_text(found.standard, formula.property.decimals + 3, Rule(done.rule))
    return replace(done, uncertainty=found.standard, uncertainty_shown=shown, budget=budget)


def _told_in_full(found: Found, formula: Formula, rule: Rule) -> Computed:
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
        for formula in sorted(by_hand(), key=lambda each: each.property.name)
    ]
    return [row for position, row in enumerate(rows) if row not in rows[:position]]


def _wanted(name: str) -> Property:
    names = sorted({formula.property.name for formula in by_hand()})
    if name not in names:
        raise UnknownNameError(f"'{name}' is not a property that can be computed.{_near(name, names)}")
    return routes(name, by_hand())[0].property


def _near(name: str, names: Iterable[str]) -> str:
    near = get_close_matches(name.lower(), list(names), n=3, cutoff=0.5)
    return f" Did you mean {' or '.join(near)}?" if near else f" Known: {', '.join(sorted(names))}."


def _known(given: Mapping[str, float]) -> None:
    names = {name for formula in by_hand() for name in (*formula.inputs, formula.property.name)}
    names |= {name for formula in by_hand() for check in formula.checks for name in check.inputs}
    stems = {stem for formula in by_hand() for stem in formula.variadic}
    for name, value in given.items():
        numbered = re.fullmatch(r"([a-z]+)[1-9][0-9]?", name)
        if name not in names and not (numbered and numbered[1] in stems):
            raise UnknownNameError(f"'{name}' is not an input of any formula.{_near(name, names)}")
        if not isfinite(value):
            raise ContradictionError(f"{name} = {value} is not a number that can be measured")


def _agreeing(given: Mapping[str, float], wanted: Property, ways: Sequence[Formula]) -> None:
    """Refuse a value given that does not follow from the others, where it would have to."""
    catalogue = registry.load()
    for name in given:
        prop = catalogue.property(name)
        if prop is None or name == wanted.name:
            continue
        others = {other: value for other, value in given.items() if other != name}
        for formula in routes(name, ways):
            if not set(formula.inputs) <= others.keys():
                continue
            found = apply(formula, {each: Found(others[each]) for each in formula.inputs}, others)
            if abs(found.value - given[name]) > _AGREEMENT * 10.0**-prop.decimals:
                computed = round_text(found.value, prop.decimals + 1)
                raise ContradictionError(
                    f"{name} = {given[name]:g} does not follow from {_listed(formula, others)}: "
                    f"{formula.equation} gives {computed}. Leave out one of them, or correct it."
                )


def _listed(formula: Formula, given: Mapping[str, float]) -> str:
    return ", ".join(f"{name} = {given[name]:g}" for name in formula.inputs)


def _inputs_text(formula: Formula) -> str:
    defaults = dict(formula.defaults)
    names = [f"[{name}]" if name in defaults else name for name in formula.inputs]
    return " ".join([*names, "…"] if formula.variadic else names)


def _lacking(wanted: Property, given: Mapping[str, float]) -> str:
    lines: list[tuple[int, str]] = []
    for formula in routes(wanted.name, by_hand()):
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
