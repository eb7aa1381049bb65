"""Tails and points of the normal, beta, t and F distributions, over whole columns; null where undefined."""

from collections.abc import Callable
from typing import Any

import polars as pl

#: Name of a temporary column.
_OUT = "out"


def column(frame: pl.DataFrame, function: Callable[..., Any], *inputs: pl.Expr) -> pl.Series:
    """Apply an element-by-element numpy function to column expressions; null or undefined gives null."""
    given = frame.select(each.cast(pl.Float64).alias(str(number)) for number, each in enumerate(inputs))
    computed = function(*(given[name].to_numpy() for name in given.columns))
    return pl.Series(_OUT, computed, dtype=pl.Float64).fill_nan(None)


def normal_below(z: Any) -> Any:
    """Return the share of the standard normal distribution below z."""
    from scipy.special import ndtr

    return ndtr(z)


def beta_below(x: Any, a: Any) -> Any:
    """Return the share of the symmetric beta distribution with both parameters `a` below x."""
    from scipy.special import betainc

    return betainc(a, a, x)


def beta_point(share: Any, a: Any) -> Any:
    """Return the x below which that share of the symmetric beta distribution lies."""
    from scipy.special import betaincinv

    return betaincinv(a, a, share)


def t_two_sided(t: Any, df: Any) -> Any:
    """Return the probability of a larger |t| by chance."""
    import numpy as np
    from scipy.special import stdtr

    return 2 * stdtr(df, -np.abs(t))


def t_point(upper: Any, df: Any) -> Any:
    """Return the t above which the share `upper` of the distribution lies."""
    import numpy as np
    from scipy.special import stdtrit

    return stdtrit(df, 1 - np.asarray(upper))


def f_above(f: Any, df_larger: Any, df_smaller: Any) -> Any:
    """Return the probability of a larger F by chance, one tail."""
    from scipy.special import fdtrc

    return fdtrc(df_larger, df_smaller, f)


def f_point(upper: Any, df_larger: Any, df_smaller: Any) -> Any:
    """Return the F above which the share `upper` of the distribution lies."""
    import numpy as np
    from scipy.special import fdtri

    return fdtri(df_larger, df_smaller, 1 - np.asarray(upper))
