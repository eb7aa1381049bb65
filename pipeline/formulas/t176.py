"""AASHTO T 176 (ASTM D2419): sand equivalent."""

from functools import reduce
from operator import add

import polars as pl

from pipeline.formulas.model import COMMON_PRACTICE, FROM_MEMORY, Check, Formula, Grain, Mean, Precision, Property
from pipeline.formulas.quantities import numbered
from schemas.vocabulary import Method

STANDARD = "AASHTO T 176 (ASTM D2419)"

SAND_EQUIVALENT = Property("sand_equivalent", "SE", "sand equivalent", "%", 0)
MEAN_OF_RUNS = Property("sand_equivalent_mean", "mean SE", "mean of the sand equivalents, not yet raised", "%", 1)
RUNS = numbered("se", "SE", "sand equivalent of one run", "%")


def _raised(value: pl.Expr) -> pl.Expr:
    """Raise to the next whole number; the noise of a division that comes out whole is none."""
    return (value - 1e-9).ceil()


ORDER = Check(
    code="readings_out_of_order",
    sentence="the readings contradict each other",
    inputs=("length_sand", "length_clay"),
    holds=lambda sand, clay: (sand > 0) & (sand <= clay),
    limit="reading of the clay >= reading of the sand > 0",
    source="AASHTO T 176, by the meaning of the readings",
    mark=COMMON_PRACTICE,
    effect="withhold",
)
RATIO = Formula(
    property=SAND_EQUIVALENT,
    grain=Grain.SPECIMEN,
    route="from_readings",
    standard=STANDARD,
    section=f"calculation ({FROM_MEMORY}: section 9)",
    equation="SE = 100 · sand reading / clay reading, raised to the next whole number",
    inputs=("length_sand", "length_clay"),
    expression=lambda sand, clay: _raised(100 * sand / clay),
    checks=(ORDER,),
    precision=Precision(
        "SE above 80: single operator s 1.5, d2s 4.2, multilaboratory s 4.4, d2s 12.5; below 80: 2.9, 8.2, 8.0, 22.6",
        FROM_MEMORY,
    ),
    lead=("length_sand", "length_clay"),
    method=Method.T176,
)
MEAN = Mean(
    property=MEAN_OF_RUNS,
    grain=Grain.SAMPLE,
    of=SAND_EQUIVALENT,
    of_grain=Grain.SPECIMEN,
    method=Method.T176,
    standard=STANDARD,
)
MEAN_BY_HAND = Formula(
    property=MEAN_OF_RUNS,
    grain=Grain.SAMPLE,
    route="of_runs",
    standard=STANDARD,
    section="mean of several runs",
    equation="mean SE = Σ SE / n",
    inputs=("se1", "se2"),
    expression=lambda *runs: reduce(add, runs) * (1 / len(runs)),
    by_hand_only=True,
    variadic=("se",),
)
RAISED_MEAN = Formula(
    property=SAND_EQUIVALENT,
    grain=Grain.SAMPLE,
    route="raised_mean",
    standard=STANDARD,
    section=f"mean of several runs ({FROM_MEMORY}: section 9)",
    equation="SE = mean of the runs, raised to the next whole number",
    inputs=("sand_equivalent_mean",),
    expression=_raised,
)
