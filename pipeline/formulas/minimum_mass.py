"""Least masses of test portions by nominal size."""

from collections.abc import Mapping, Sequence
from functools import partial

import polars as pl

from pipeline.formulas.model import FROM_MEMORY, Bound, Check, Expression

#: Ladder -> nominal size in mm -> least mass in g. `wsdot`: printed in its FOP for T 27/T 11; `t27`, `t85`, both of
#: `t209` and `t308` (12.5 and 19 mm printed): from memory; `d4791`: printed in the checklist of ASTM D4791-10; `t335`:
#: retained on 4.75 mm, WSDOT FOP for T 335.
LADDERS: dict[str, dict[float, float]] = {
    "wsdot": {
        4.75: 500,
        6.3: 1000,
        9.5: 1000,
        12.5: 2000,
        16.0: 2000,
        19.0: 3000,
        25.0: 6000,
        31.5: 7500,
        37.5: 9000,
        50.0: 10_000,
        63.0: 12_000,
        75.0: 15_000,
        90.0: 20_000,
    },
    "t209": {12.5: 1500, 25.0: 2500, 37.5: 4000},
    "t209_older": {4.75: 500, 9.5: 1000, 12.5: 1500, 25.0: 2500, 37.5: 4000},
    "t308": {9.5: 1200, 12.5: 1500, 19.0: 2000, 25.0: 3000, 37.5: 4000},
    "t27": {9.5: 1000, 12.5: 2000, 19.0: 5000, 25.0: 10_000, 37.5: 15_000, 50.0: 20_000},
    "t85": {12.5: 2000, 19.0: 3000, 25.0: 4000, 37.5: 5000},
    "d4791": {9.5: 1000, 12.5: 2000, 19.0: 5000, 25.0: 10_000, 37.5: 15_000, 50.0: 20_000},
    "t335": {4.75: 200, 9.5: 400, 12.5: 700, 19.0: 1000, 25.0: 1500, 37.5: 2500},
}

#: One code for every method: the limits stand under it.
PORTION_OFF = partial(Check, code="test_portion_off", sentence="the test portion has not the mass the method asks for")


def rungs(ladder: str, mark: str | None = None) -> tuple[Bound, ...]:
    """Return the masses of a ladder as bounds: `t27_least_mass_at_9_5_mm_g` and so on."""
    return tuple(
        Bound(f"{ladder}_least_mass_at_{str(size).removesuffix('.0').replace('.', '_')}_mm_g", float(mass), mark)
        for size, mass in LADDERS[ladder].items()
    )


def told(ladder: str) -> str:
    """Return the ladder in words, with `{}` for each mass."""
    return ", ".join(f"{size:g} mm {{}} g" for size in LADDERS[ladder])


def standing(ladder: str, limits: Mapping[str, float]) -> list[float]:
    """Return the masses of a ladder under the limits of the settings."""
    return [limits.get(rung.name, rung.value) for rung in rungs(ladder)]


def least(nominal: pl.Expr, ladder: str, masses: Sequence[float]) -> pl.Expr:
    """Return the least mass in g at a nominal size in mm; null where the ladder has no such size."""
    return nominal.replace_strict(list(LADDERS[ladder]), masses, default=None, return_dtype=pl.Float64)


def least_up_to(nominal: pl.Expr, ladder: str, masses: Sequence[float]) -> pl.Expr:
    """Return the least mass in g of the first size of the ladder that a nominal size in mm does not exceed."""
    return pl.coalesce(
        pl.when(nominal <= size + 1e-6).then(pl.lit(mass)) for size, mass in zip(LADDERS[ladder], masses, strict=True)
    )


def portion_check(
    inputs: tuple[str, ...], mass: Expression, ladder: str, source: str, mark: str | None = FROM_MEMORY
) -> tuple[Check, ...]:
    """Return the check of a portion's mass against the ladder at the nominal size of the sample."""
    count = len(inputs)
    return (
        PORTION_OFF(
            inputs=(*inputs, "nmas_found"),
            holds=lambda *found: mass(*found[:count]) >= least(found[count], ladder, found[count + 1 :]) - 1e-9,
            bounds=rungs(ladder),
            limit=f"at least, by nominal size, {told(ladder)}",
            source=source,
            mark=mark,
        ),
    )
