"""Rounding to reporting decimals by ASTM E29, in decimal arithmetic on the digits as entered."""

from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from enum import StrEnum

import polars as pl


class Rule(StrEnum):
    """What becomes of an exact half."""

    HALF_EVEN = "half_even"
    HALF_UP = "half_up"

    @property
    def words(self) -> str:
        """Return the rule as it is printed with results."""
        even = self is Rule.HALF_EVEN
        return "an exact half to the even digit (ASTM E29)" if even else "an exact half away from zero (conventional)"


_MODES = {Rule.HALF_EVEN: ROUND_HALF_EVEN, Rule.HALF_UP: ROUND_HALF_UP}


def round_text(value: float, decimals: int, rule: Rule = Rule.HALF_EVEN) -> str:
    """Return a figure as it is reported, trailing zeros included: ``round_text(2.7, 3)`` is ``2.700``.

    The shortest digits that stand for the number are rounded, not its binary value: 2.675 to two decimals is a
    half, though the nearest binary number lies below it.

    Parameters
    ----------
    value
        A finite figure.
    decimals
        Decimals to keep, 0 or more.
    rule
        Half to even (ASTM E29, the default of the standards) or half away from zero.
    """
    _check(decimals)
    rounded = Decimal(repr(value)).quantize(Decimal(1).scaleb(-decimals), rounding=_MODES[rule])
    return str(abs(rounded) if rounded == 0 else rounded)


def round_value(value: float, decimals: int, rule: Rule = Rule.HALF_EVEN) -> float:
    """Return a figure rounded as in `round_text`, as a number."""
    return float(round_text(value, decimals, rule))


def rounded(values: pl.Expr, decimals: pl.Expr | int, rule: Rule = Rule.HALF_EVEN) -> pl.Expr:
    """Round a column as `round_value` does, each row to its own decimals.

    It gives equal results up to 15 significant digits: a number is read as an exact half when it is the binary
    number nearest to that half, which is what its shortest digits say.

    Parameters
    ----------
    values
        Figures; null and not-finite ones stay as they are.
    decimals
        Decimals to keep (0 to 15), one number or a column.
    """
    if isinstance(decimals, int):
        _check(decimals)
    # Decimals become a column of their own: polars divides a long column by a constant through its reciprocal, and the
    # last bit of a figure would depend on how many others stand beside it.
    every = values.is_null().cast(pl.Float64) * 0 + decimals if isinstance(decimals, int) else decimals
    scale = every.cast(pl.Float64)
    power = pl.lit(10.0).pow(scale).round(0)
    below = (values * power).floor()
    half = (below + 0.5) / power
    up_at_half = below % 2 != 0 if rule is Rule.HALF_EVEN else values > 0
    up = (values > half) | ((values == half) & up_at_half)
    result = (below + up.cast(pl.Float64)) / power
    # Adding zero turns a negative zero into a plain one.
    return pl.when(values.is_finite()).then(result + 0.0).otherwise(values)


def round_series(values: pl.Series, decimals: pl.Series, rule: Rule = Rule.HALF_EVEN) -> pl.Series:
    """Round a series, each value to the decimals beside it; see `rounded`."""
    frame = pl.DataFrame({"value": values.cast(pl.Float64), "decimals": decimals})
    return frame.select(rounded(pl.col("value"), pl.col("decimals"), rule).alias(values.name)).to_series()


def _check(decimals: int) -> None:
    if not 0 <= decimals <= 15:
        raise ValueError(f"decimals must be 0 to 15, not {decimals}")
