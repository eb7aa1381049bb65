"""Declarations -> plain frames for the warehouse's documentation."""

from collections.abc import Iterable

import polars as pl

from pipeline.formulas.model import Check, Formula, Property, Route
from schemas.vocabulary import Level

_TEXT = pl.String()


def _frame(rows: Iterable[dict[str, object]], **schema: pl.DataType) -> pl.DataFrame:
    return pl.DataFrame(list(rows), schema=schema, orient="row")


def _grouped(routes: Iterable[Route]) -> dict[str, list[Route]]:
    grouped: dict[str, list[Route]] = {}
    for route in routes:
        grouped.setdefault(route.property.name, []).append(route)
    return grouped


def _formulas_first(routes: list[Route]) -> list[Route]:
    own: list[Route] = [route for route in routes if isinstance(route, Formula)]
    return own or routes


def _finest(prop: Property) -> int:
    return max((prop.decimals, *(decimals for _, decimals in prop.decimals_at)))


def properties(routes: Iterable[Route]) -> pl.DataFrame:
    """Return one row per property; `decimals` is the finest of its places, `level` the coarsest it has."""
    rows: list[dict[str, object]] = []
    for name, ways in _grouped(routes).items():
        prop, stated = ways[0].property, _formulas_first(ways)
        levels = {route.grain.level for route in ways}
        rows.append(
            {
                "property": name,
                "symbol": prop.symbol,
                "name": prop.title,
                "unit": prop.unit,
                "decimals": _finest(prop),
                "standard": stated[0].standard,
                "section": stated[0].section or None,
                "equation": "; or ".join(dict.fromkeys(route.equation for route in stated)),
                "level": (Level.SAMPLE if Level.SAMPLE in levels else Level.SPECIMEN).value,
            }
        )
    text = dict.fromkeys(("property", "symbol", "name", "unit"), _TEXT)
    rest = dict.fromkeys(("standard", "section", "equation", "level"), _TEXT)
    return _frame(rows, **text, decimals=pl.Int64(), **rest)


def decimals(routes: Iterable[Route]) -> pl.DataFrame:
    """Return the reporting decimals per property and, where they differ, place."""
    rows: list[dict[str, object]] = []
    for name, ways in _grouped(routes).items():
        prop = ways[0].property
        rows.append({"property": name, "point": None, "decimals": prop.decimals})
        rows += [{"property": name, "point": at, "decimals": places} for at, places in prop.decimals_at]
    return _frame(rows, property=_TEXT, point=pl.Float64(), decimals=pl.Int64())


def flags(checks: Iterable[Check]) -> pl.DataFrame:
    """Return one row per code; several methods' limits under one code stand together."""
    grouped: dict[str, list[Check]] = {}
    for check in checks:
        grouped.setdefault(check.code, []).append(check)
    rows: list[dict[str, object]] = [
        {
            "code": code,
            "sentence": found[0].sentence,
            "limit_text": "; ".join(dict.fromkeys(check.limit_text for check in found)),
            "source": "; ".join(dict.fromkeys(_sourced(check) for check in found)),
            "effect": found[0].effect,
        }
        for code, found in grouped.items()
    ]
    return _frame(rows, code=_TEXT, sentence=_TEXT, limit_text=_TEXT, source=_TEXT, effect=_TEXT)


def _sourced(check: Check) -> str:
    return f"{check.source} ({check.mark})" if check.mark else check.source


def wide_columns(routes: Iterable[Route]) -> pl.DataFrame:
    """Return the columns of the wide view of sample results, one per property and standard place."""
    rows: list[dict[str, object]] = []
    for name, ways in _grouped(routes).items():
        prop = ways[0].property
        if not any(route.grain.level is Level.SAMPLE and not _by_hand(route) for route in ways):
            continue
        for at in prop.places or (None,):
            place = "" if at is None else f" at {at:g} {'mm' if prop.at == 'sieve_mm' else prop.at}"
            rows.append(
                {
                    "property": name,
                    "point": at,
                    "column_name": prop.column_name(at),
                    "sentence": f"{prop.title[0].upper()}{prop.title[1:]}{place} ({prop.symbol}).",
                    "unit": prop.unit,
                }
            )
    return _frame(rows, property=_TEXT, point=pl.Float64(), column_name=_TEXT, sentence=_TEXT, unit=_TEXT)


def _by_hand(route: Route) -> bool:
    return isinstance(route, Formula) and route.by_hand_only


def formulas(versioned: Iterable[tuple[Route, str]]) -> pl.DataFrame:
    """Return every route with what explains a figure it gave."""
    rows: list[dict[str, object]] = [
        {
            "property": route.property.name,
            "level": route.grain.level.value,
            "route": route.route,
            "formula_version": version,
            "standard": route.standard,
            "section": route.section or None,
            "equation": route.equation,
            "inputs": " ".join(route.inputs if isinstance(route, Formula) else (route.of.name,)),
            "precision": route.precision.text if route.precision else None,
            "precision_mark": route.precision.mark if route.precision else None,
            "by_hand_only": _by_hand(route),
        }
        for route, version in versioned
    ]
    names = ("property", "level", "route", "formula_version", "standard", "section", "equation", "inputs")
    text = dict.fromkeys((*names, "precision", "precision_mark"), _TEXT)
    return _frame(rows, **text, by_hand_only=pl.Boolean())
