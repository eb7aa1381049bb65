"""AASHTO R 76 (aggregate) and R 47 (mixture): how evenly a splitter halved."""

import polars as pl

from pipeline.formulas.conditions import at_most
from pipeline.formulas.model import FROM_MEMORY, Check, Formula, Grain, Property, bounds
from schemas.vocabulary import Method

SPLIT_DIFFERENCE = Property("split_difference", "Δ split", "difference of the two halves of a split", "%", 1)

EVEN = Check(
    code="split_uneven",
    sentence="the two halves of the split differ too much: split again",
    inputs=("split_difference",),
    holds=at_most,
    bounds=bounds("pct", split_difference=5),
    limit="halves within {} %",
    source="AASHTO R 76, splitter check",
    mark=FROM_MEMORY,
)
HALVES = Formula(
    property=SPLIT_DIFFERENCE,
    grain=Grain.SPECIMEN,
    route="of_halves",
    standard="AASHTO R 76, R 47",
    section="splitter check (from memory)",
    equation="difference = 100 (1 - lighter half / heavier half)",
    inputs=("mass_split_first", "mass_split_second"),
    expression=lambda one, other: 100 * (1 - pl.min_horizontal(one, other) / pl.max_horizontal(one, other)),
    checks=(EVEN,),
    method=Method.R76,
)
