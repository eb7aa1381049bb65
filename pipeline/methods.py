"""The catalogue of properties, generated from the registry: what is computed, by which method, from what."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from pipeline.formulas import bounds, registry
from pipeline.formulas.model import Check, Curve, Formula, Property, Route
from pipeline.formulas.registry import Registry
from pipeline.solving import UnknownNameError

#: One entry of the catalogue as plain values; see `catalogue`.
Entry = dict[str, Any]


@dataclass(frozen=True)
class _Catalogue:
    known: Registry

    def entry(self, prop: Property) -> Entry:
        routes = [route for route in self.known.routes if route.property.name == prop.name]
        return {
            "property": prop.name,
            "symbol": prop.symbol,
            "title": prop.title,
            "unit": prop.unit,
            "decimals": prop.decimals,
            "decimals_at": {f"{at:g}": decimals for at, decimals in prop.decimals_at},
            "several_by": prop.at,
            "places": list(prop.places),
            "routes": [self.route(route) for route in routes],
        }

    def route(self, route: Route) -> Entry:
        formula = route if isinstance(route, Formula) else None
        precision = route.precision
        return {
            "route": route.route,
            "of": route.grain.value,
            "standard": route.standard,
            "section": route.section,
            "equation": route.equation,
            "inputs": self.inputs(formula) if formula else [self.input(route.of.name)],  # type: ignore[union-attr]
            "by_hand_only": formula.by_hand_only if formula else False,
            "material": route.material.value if route.material else None,
            "choices": list(route.parameters),
            "checks": [_check(check) for check in route.checks],
            "precision": {"text": precision.text, "mark": precision.mark} if precision else None,
        }

    def inputs(self, formula: Formula) -> list[Entry]:
        defaults, takes = dict(formula.defaults), dict(formula.takes)
        found = []
        for name in formula.inputs:
            entry = self.input(name)
            entry |= {"default": defaults[name]} if name in defaults else {}
            entry |= {"from_records": takes[name]} if name in takes else {}
            found.append(entry)
        return found

    def input(self, name: str) -> Entry:
        stated = self.known.property(name) or self.known.quantity(name)
        symbol, title, unit = (stated.symbol, stated.title, stated.unit) if stated else (name, "", None)
        return {"name": name, "symbol": symbol, "title": title, "unit": unit} | self.procedure(name)

    def procedure(self, name: str) -> Entry:
        curve: Curve | None = next(
            (curve for curve in self.known.curves if name in {each.name for each in curve.gives}), None
        )
        return {} if curve is None else {"procedure": curve.procedure, "procedure_standard": curve.standard}


def _check(check: Check) -> Entry:
    return {
        "code": check.code,
        "sentence": check.sentence,
        "limit": check.limit_text,
        "source": check.source,
        "mark": check.mark,
        "effect": check.effect,
    }


def catalogue(name: str | None = None) -> list[Entry]:
    """Return the properties by name, each with its routes, as plain values.

    Parameters
    ----------
    name
        One property; None: all.

    Raises
    ------
    UnknownNameError
        For a property nobody knows, with near names.
    """
    known = registry.load()
    props = {route.property.name: route.property for route in known.routes}
    if name is not None and name not in props:
        near = get_close_matches(name.lower(), list(props), n=3, cutoff=0.5)
        hint = f"Did you mean {' or '.join(near)}?" if near else "`mixledger methods` lists them."
        raise UnknownNameError(f"'{name}' is not a property. {hint}")
    chosen = sorted(props) if name is None else [name]
    made = _Catalogue(known)
    return [made.entry(props[each]) for each in chosen]


def summary(entries: Sequence[Entry]) -> list[tuple[object, ...]]:
    """Return one row per property: name, symbol, definition, unit, decimals, standards."""
    return [
        (
            each["property"],
            each["symbol"],
            each["title"],
            each["unit"] or "",
            each["decimals"],
            ", ".join(dict.fromkeys(route["standard"] for route in each["routes"] if route["standard"])),
        )
        for each in entries
    ]


def lines(entry: Entry) -> Iterator[str]:
    """Yield one property in full, as lines of text."""
    unit = f", {entry['unit']}" if entry["unit"] else ""
    yield f"{entry['property']}   {entry['symbol']}: {entry['title']}{unit}; reported to {_decimals(entry)}"
    if entry["places"]:
        yield f"  at {', '.join(f'{place:g}' for place in entry['places'])} ({entry['several_by']})"
    for route in entry["routes"]:
        yield ""
        yield from _route_lines(route)


def _decimals(entry: Entry) -> str:
    places = "".join(f", {decimals} at {at}" for at, decimals in entry["decimals_at"].items())
    return f"{entry['decimals']} decimals{places}"


def _route_lines(route: Entry) -> Iterator[str]:
    section = f", {route['section']}" if route["section"] else ""
    only = ", by hand only" if route["by_hand_only"] else ""
    yield f"  {route['route']} ({route['of']}{only}): {route['standard']}{section}"
    yield f"    {route['equation']}"
    for each in route["inputs"]:
        yield f"    input {input_text(each)}"
    if route["choices"]:
        yield f"    choices of the settings: {', '.join(route['choices'])}"
    for check in route["checks"]:
        yield f"    check {check_text(check)}"
    if route["precision"]:
        yield f"    precision: {precision_text(route['precision'])}"


def input_text(each: Entry) -> str:
    """Return an input in words."""
    unit = f", {each['unit']}" if each["unit"] else ""
    default = f"; {each['default']:g} where not recorded" if "default" in each else ""
    takes = f"; from records: {each['from_records']}" if "from_records" in each else ""
    procedure = f"; by {each['procedure']}" if "procedure" in each else ""
    return f"{each['name']}: {each['title']}{unit}{default}{takes}{procedure}"


def check_text(check: Entry) -> str:
    """Return a check in words, with what happens where it does not hold, source and mark."""
    effect = "no figure" if check["effect"] == "withhold" else "flag"
    return f"{check['code']}: {check['limit']} (else {effect}; {check['source']}{_marked(check['mark'])})"


def precision_text(precision: Entry) -> str:
    """Return a statement of precision with its mark."""
    return f"{precision['text']}{_marked(precision['mark'])}"


def _marked(mark: str | None) -> str:
    return f" [{mark}]" if mark else ""


def declared_limits(limits: Mapping[str, float] | None = None) -> list[Entry]:
    """Return the numbers in the checks that settings may replace, each with the limits it stands in.

    Parameters
    ----------
    limits
        Those the settings replace, by name; None: as shipped.
    """
    found = bounds.listed(registry.load(limits).checks())
    stated = {bound.name: bound for checks in found.values() for check in checks for bound in check.bounds}
    return [
        {
            "name": name,
            "value": stated[name].value,
            "limit": "; ".join(dict.fromkeys(check.limit_text for check in checks)),
            "flag": ", ".join(dict.fromkeys(check.code for check in checks)),
            "source": "; ".join(dict.fromkeys(check.source for check in checks)),
            "mark": ", ".join(dict.fromkeys(mark for check in checks if (mark := stated[name].mark or check.mark)))
            or None,
        }
        for name, checks in sorted(found.items())
    ]


def declared_contributions() -> list[Entry]:
    """Return what instruments and methods contribute to uncertainties, as declared."""
    from pipeline.uncertainty.declared import shipped

    return [
        {
            "name": each.name,
            "on": " ".join(each.on),
            "value": each.value,
            "unit": each.unit or ("of the figure" if each.relative is not None else ""),
            "about": each.about,
            "source": each.source,
            "mark": each.mark,
        }
        for each in shipped()
    ]
