"""Surface area of the aggregate and thickness of the binder film: an index without a standard method."""

from functools import reduce
from operator import add

import polars as pl

from pipeline.formulas.model import COMMON_PRACTICE, Formula, Grain, Property, Quantity
from pipeline.settings import Results
from schemas.vocabulary import Material

_SIEVES = ("4_75", "2_36", "1_18", "0_6", "0_3", "0_15", "0_075")
_PASSING = tuple(f"passing_{sieve}" for sieve in _SIEVES)
_FACTORS = ("surface_constant", *(f"surface_factor_{sieve}" for sieve in _SIEVES))
_CHOICES = ("surface_area_factors",)

SURFACE_AREA = Property("surface_area", "SA", "surface area of the aggregate", "m²/kg", 2)
FILM_THICKNESS = Property("film_thickness", "TF", "apparent thickness of the binder film", "µm", 1)

FACTORS = tuple(
    Quantity(
        name,
        "f" if name != _FACTORS[0] else "f0",
        f"surface area factor, {name.rpartition('factor_')[2].replace('_', '.')} mm"
        if name != _FACTORS[0]
        else "surface area of the maximum size, a constant",
        "m²/kg",
        Grain.SAMPLE,
    )
    for name in _FACTORS
)


def quantities(choices: Results) -> list[pl.Expr]:
    """Return the factors of the settings as formulas name them."""
    return [
        pl.lit(float(factor)).alias(name) for name, factor in zip(_FACTORS, choices.surface_area_factors, strict=True)
    ]


def _area(*given: pl.Expr) -> pl.Expr:
    passing, constant, factors = given[: len(_SIEVES)], given[len(_SIEVES)], given[len(_SIEVES) + 1 :]
    return constant + reduce(add, [factor * each for factor, each in zip(factors, passing, strict=True)]) * 0.01


AREA = Formula(
    property=SURFACE_AREA,
    grain=Grain.SAMPLE,
    route="of_passing",
    standard="UFC 3-250-03",
    section="table C-1",
    equation="SA = f0 + Σ f P / 100 over 4.75 to 0.075 mm, factors f of the settings",
    inputs=(*_PASSING, *_FACTORS),
    expression=_area,
    defaults=tuple(zip(_FACTORS, Results().surface_area_factors, strict=True)),
    material=Material.MIX,
    parameters=_CHOICES,
)
FILM = Formula(
    property=FILM_THICKNESS,
    grain=Grain.SAMPLE,
    route="by_mass",
    standard="no standard method",
    section=f"apparent film thickness ({COMMON_PRACTICE})",
    equation="TF = 1000 Pbe / ((100 - Pb) Gb · SA); 1000, for litres over m² are millimetres",
    inputs=("pbe", "pb", "gb", "surface_area"),
    expression=lambda pbe, pb, gb, area: 1000 * pbe / ((100 - pb) * gb * area),
    lead=("surface_area",),
    material=Material.MIX,
    parameters=_CHOICES,
)
