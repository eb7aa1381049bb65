"""Nominal and maximum size by their named definitions, control points, and the primary control sieve."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import polars as pl

from pipeline.formulas.t30 import SIEVES

#: Openings in mm of the series in which "one sieve larger" is counted, from the largest down. Sieves between them
#: (16.0, 6.3 mm …) may be used but define no size.
SERIES = SIEVES
_ABOVE = {small: large for large, small in zip((63.0, *SERIES[:-1]), SERIES, strict=True)}
_NOISE = 1e-9

DEFINITIONS = (
    "ten_percent: NMAS one sieve above the first to retain more than 10 %, D one above NMAS; one_percent: NMAS the "
    "largest sieve retaining more than 1 %, D one above; below_maximum: D the smallest sieve passing 100 %, NMAS one "
    "below"
)


class Sizes(NamedTuple):
    """Nominal and maximum size in mm, and why there are none."""

    nominal: pl.Expr
    maximum: pl.Expr
    why: pl.Expr


def sizes(passing: Sequence[pl.Expr], definition: str) -> Sizes:
    """Return the sizes by one of the named definitions.

    Parameters
    ----------
    passing
        Passing in % at each sieve of `SERIES`, null where it was not used.
    definition
        `ten_percent` (AASHTO M 323, WAQTC), `one_percent` (WSDOT, for sieves of a specification), `below_maximum`
        (California Test 382).
    """
    if definition == "below_maximum":
        return _below_maximum(passing)
    limit = 10.0 if definition == "ten_percent" else 1.0
    over = [100 - each > limit + _NOISE for each in passing]
    first = _first(over)
    none = pl.when(first.is_null()).then(pl.lit(f"no sieve of the series retains more than {limit:g} %"))
    if definition == "one_percent":
        return Sizes(first, _above(first), none)
    # The sieve above the first must have been used: what it retains decides.
    used = pl.coalesce(
        pl.when(first == small).then(each.is_not_null())
        for small, each in zip(SERIES, (pl.lit(None, pl.Float64), *passing[:-1]), strict=True)
    )
    nominal = pl.when(used).then(_above(first))
    unused = pl.when(~used).then(
        pl.format("no result at {} mm: whether it retains more than 10 % cannot be told", _above(first))
    )
    return Sizes(nominal, _above(nominal), pl.coalesce(none, unused))


def _below_maximum(passing: Sequence[pl.Expr]) -> Sizes:
    # From the smallest sieve up, the first that passes everything.
    whole = [(each >= 100 - _NOISE, sieve) for each, sieve in zip(passing, SERIES, strict=True)]
    maximum = pl.coalesce(pl.when(passes).then(pl.lit(sieve)) for passes, sieve in reversed(whole))
    below = {large: small for small, large in _ABOVE.items()}
    nominal = maximum.replace_strict(list(below), list(below.values()), default=None, return_dtype=pl.Float64)
    none = pl.when(maximum.is_null()).then(pl.lit("no sieve of the series passes 100 %"))
    return Sizes(nominal, maximum, none)


def _first(over: Sequence[pl.Expr]) -> pl.Expr:
    return pl.coalesce(pl.when(each).then(pl.lit(sieve)) for each, sieve in zip(over, SERIES, strict=True))


def _above(size: pl.Expr) -> pl.Expr:
    return size.replace_strict(list(_ABOVE), list(_ABOVE.values()), default=None, return_dtype=pl.Float64)


def looked_up(nominal: pl.Expr, table: Mapping[str, float]) -> pl.Expr:
    """Return what a table of the settings has for a nominal size in mm; null where it has nothing.

    The tables of the primary control sieve (its opening in mm, its control point in % passing) are those of AASHTO
    M 323, table 4.
    """
    sizes_, values = [float(size) for size in table], [float(value) for value in table.values()]
    return nominal.replace_strict(sizes_, values, default=None, return_dtype=pl.Float64)
