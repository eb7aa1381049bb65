"""Rounding by ASTM E29, against worked examples and decimal arithmetic."""

import math

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.rounding import Rule, round_series, round_text, round_value, rounded


@given(st.integers(-10_000_000, 10_000_000), st.integers(0, 6), st.integers(0, 5), st.sampled_from(list(Rule)))
def test_column_equals_decimal_arithmetic_on_halves_and_others(
    digits: int, places: int, decimals: int, rule: Rule
) -> None:
    value = digits / 10**places
    column = pl.select(rounded(pl.lit(value), decimals, rule)).item()
    assert column == round_value(value, decimals, rule)
    assert math.copysign(1, column) == 1 or column != 0


@given(st.floats(-1e5, 1e5), st.integers(0, 4), st.sampled_from(list(Rule)))
def test_column_equals_decimal_arithmetic_on_any_number(value: float, decimals: int, rule: Rule) -> None:
    column = pl.select(rounded(pl.lit(value), decimals, rule)).item()
    assert column == round_value(value, decimals, rule)


def test_every_row_to_its_own_decimals() -> None:
    given_values = pl.Series("value", [2.675, 21.45, None, math.inf, 4.5])
    decimals = pl.Series([2, 1, 3, 1, 0])
    assert round_series(given_values, decimals).to_list() == [2.68, 21.4, None, math.inf, 4.0]


def test_negative_decimals_are_refused() -> None:
    with pytest.raises(ValueError, match="decimals must be 0 to 15, not -1"):
        round_text(123.0, -1)
