"""Least masses of test portions of aggregate by their nominal size."""

from functools import partial

import polars as pl

from pipeline.formulas.model import FROM_MEMORY, Check, Expression

#: Ladder -> nominal size in mm -> least mass in g. `wsdot`: printed in its FOP for T 27/T 11; `t27` and `t85`: from
#: memory; `d4791`: printed in the checklist of ASTM D4791-10; `t335`: retained on 4.75 mm, WSDOT FOP for T 335.
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
    "t27": {9.5: 1000, 12.5: 2000, 19.0: 5000, 25.0: 10_000, 37.5: 15_000, 50.0: 20_000},
    "t85": {12.5: 2000, 19.0: 3000, 25.0: 4000, 37.5: 5000},
    "d4791": {9.5: 1000, 12.5: 2000, 19.0: 5000, 25.0: 10_000, 37.5: 15_000, 50.0: 20_000},
    "t335": {4.75: 200, 9.5: 400, 12.5: 700, 19.0: 1000, 25.0: 1500, 37.5: 2500},
}

#: One code for every method: the limits stand under it.
PORTION_OFF = partial(Check, code="test_portion_off", sentence="the test portion has not the mass the method asks for")


def least(nominal: pl.Expr, ladder: str) -> pl.Expr:
    """Return the least mass in g for a nominal size in mm; null where the ladder has no such size."""
    rungs = LADDERS[ladder]
    return nominal.replace_strict(list(rungs), [float(mass) for mass in rungs.values()], default=None)


def portion_check(
    inputs: tuple[str, ...], mass: Expression, ladder: str, limit: str, mark: str | None = FROM_MEMORY
) -> tuple[Check, ...]:
    """Return the check of a portion's mass against the ladder at the nominal size of the sample."""
    source, _, rungs = limit.partition(": ")
    return (
        PORTION_OFF(
            inputs=(*inputs, "nmas_found"),
            holds=lambda *found: mass(*found[:-1]) >= least(found[-1], ladder) - 1e-9,
            limit=f"at least, by nominal size, {rungs}",
            source=source,
            mark=mark,
        ),
    )
