"""Stored units and conversion at the edge: one cached factor and offset per pair of units."""

from fractions import Fraction
from functools import cache, lru_cache
from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    import pint

#: Stored unit -> suffix of a column that carries it. A column has the suffix if and only if it has the unit.
SUFFIXES: dict[str, str] = {
    "g": "_g",
    "mm": "_mm",
    "mm/pass": "_mm_per_pass",
    "m": "_m",
    "t": "_t",
    "°C": "_c",
    "kPa": "_kpa",
    "N": "_n",
    "kg/m³": "_kg_m3",
    "lb/ft³": "_lb_ft3",
    "%": "_pct",
    "°": "_deg",
    "1/min": "_per_min",
    "min": "_min",
    "s": "_s",
    "mm/min": "_mm_per_min",
    "kN": "_kn",
    "N/mm": "_n_per_mm",
    "kN/mm": "_kn_per_mm",
    "cm³": "_cm3",
    "J": "_j",
    "J/m²": "_j_m2",
    "m²/kg": "_m2_per_kg",
    "µm": "_um",
    "byte": "_bytes",
}

#: How instruments spell units -> the spelling of the units library.
_SPELLINGS: dict[str, str] = {
    "°C": "degC",
    "C": "degC",
    "°F": "degF",
    "F": "degF",
    "°": "degree",
    "%": "percent",
    "lb": "pound",
    "lbf": "pound_force",
    "in": "inch",
    "psi": "psi",
    "mmHg": "mmHg",
    "1/min": "1/minute",
    "kg/m³": "kg/m**3",
    "lb/ft³": "lb/ft**3",
    "cm³": "cm**3",
    "J/m²": "J/m**2",
    "m²/kg": "m**2/kg",
    "t": "metric_ton",
    "ton": "short_ton",
}


class UnknownUnitError(ValueError):
    """A unit that is not known, or that does not measure what the column measures."""


@cache
def _registry() -> "pint.UnitRegistry[Fraction]":
    """Return the units library's registry, read once: it takes longer than everything else here."""
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True, non_int_type=Fraction)


@lru_cache(maxsize=256)
def _exact(given: str, stored: str) -> tuple[Fraction, Fraction]:
    """Return (factor, offset) with stored = given * factor + offset, as exact ratios."""
    if _SPELLINGS.get(given, given) == _SPELLINGS.get(stored, stored):
        return Fraction(1), Fraction(0)
    registry = _registry()
    try:
        source, target = (registry.Unit(_SPELLINGS.get(unit, unit)) for unit in (given, stored))
        zero, one = (Fraction(registry.Quantity(Fraction(value), source).to(target).magnitude) for value in (0, 1))
    except Exception as fault:
        raise UnknownUnitError(f"unit '{given}' cannot be converted to '{stored}'") from fault
    return one - zero, zero


def conversion(given: str, stored: str) -> tuple[float, float]:
    """Return (factor, offset) with stored = given * factor + offset.

    Raises
    ------
    UnknownUnitError
        When a unit is unknown or the two do not measure the same thing.
    """
    factor, offset = _exact(given, stored)
    return float(factor), float(offset)


def to_stored(values: pl.Expr, given: str, stored: str) -> pl.Expr:
    """Convert a column expression from the unit an export uses to the stored unit."""
    factor, offset = _exact(given, stored)
    if factor == 1 and not offset:
        return values
    # Shifted first: 77 °F less 32, times 5/9, is 25 °C to the last digit.
    shifted = values + float(offset / factor) if offset else values
    return shifted * float(factor)
