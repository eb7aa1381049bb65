"""A figure computed alone equals, to the last digit, the same figure among many: any order gives the same warehouse."""

import random

import polars as pl
import pytest

from pipeline.formulas import registry
from pipeline.formulas.model import Formula

ROWS, TRIED = 500, 60


@pytest.mark.parametrize("formula", registry.load().formulas, ids=registry.label)
def test_one_row_and_many(formula: Formula) -> None:
    draw = random.Random(7)
    many = pl.DataFrame({name: [round(draw.uniform(1.5, 99.5), 4) for _ in range(ROWS)] for name in formula.inputs})
    expression = formula.expression(*(pl.col(name) for name in formula.inputs)).alias("value")
    together = many.select(expression)["value"]
    for row in range(0, ROWS, ROWS // TRIED):
        (alone,) = many[row].select(expression)["value"]
        assert alone == together[row] or (alone != alone and together[row] != together[row])
