"""Stored units and conversion at the edge: one cached factor and offset per pair of units."""

import math
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
    "ft²/lb": "ft**2/lb",
    "mm/pass": "mm",
    "in/pass": "inch",
    "lbf/in": "pound_force/inch",
    "t": "metric_ton",
    "ton": "short_ton",
}


#: Stored unit -> US customary unit it is shown in where these are asked for; a unit that is not here is used in both
#: (masses in g, volumes in cm³, energies in J, film thickness in µm; common practice).
CUSTOMARY: dict[str, str] = {
    "mm": "in",
    "mm/pass": "in/pass",
    "m": "ft",
    "t": "ton",
    "°C": "°F",
    "kPa": "psi",
    "N": "lbf",
    "kN": "lbf",
    "N/mm": "lbf/in",
    "kN/mm": "lbf/in",
    "kg/m³": "lb/ft³",
    "m²/kg": "ft²/lb",
}

#: Opening in mm -> alternative designation of the sieve (ASTM E11, table of nominal dimensions; from memory).
SIEVE_DESIGNATIONS: dict[float, str] = {
    75.0: "3 in",
    63.0: "2 1/2 in",
    50.0: "2 in",
    37.5: "1 1/2 in",
    25.0: "1 in",
    19.0: "3/4 in",
    12.5: "1/2 in",
    9.5: "3/8 in",
    6.3: "1/4 in",
    4.75: "No. 4",
    2.36: "No. 8",
    2.0: "No. 10",
    1.18: "No. 16",
    0.6: "No. 30",
    0.425: "No. 40",
    0.3: "No. 50",
    0.15: "No. 100",
    0.075: "No. 200",
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


def customary(unit: str | None) -> tuple[str, float, float, int] | None:
    """Return US customary unit, factor, offset, and by how many decimals more a figure is reported in it.

    shown = stored * factor + offset, to be applied to the unrounded figure. The decimals are those whose step is
    nearest to the step of the stored unit, so that about as many digits are kept (NIST SP 811, B.7.2). None where the
    stored unit is shown as it is.
    """
    if unit not in CUSTOMARY:
        return None
    shown = CUSTOMARY[unit]
    factor, offset = conversion(unit, shown)
    return shown, factor, offset, round(-math.log10(factor))


def to_stored(values: pl.Expr, given: str, stored: str) -> pl.Expr:
    """Convert a column expression from the unit an export uses to the stored unit."""
    factor, offset = _exact(given, stored)
    if factor == 1 and not offset:
        return values
    # Shifted first: 77 °F less 32, times 5/9, is 25 °C to the last digit.
    shifted = values + float(offset / factor) if offset else values
    return shifted * float(factor)
