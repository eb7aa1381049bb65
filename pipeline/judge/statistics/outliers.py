"""Outlying results: ASTM E178 and Dixon's ratio. They flag, with statistic and critical value; nothing is removed."""

import polars as pl

from pipeline.judge.statistics.distributions import column, t_point

#: Critical values of Dixon's ratio, 5 % one-sided, by number of results.
#: 5 and 10: NJDOT Standard Specifications 2019, 401.03.07.H; the others from memory, and held by the tests against
#: the distribution of the ratio itself.
DIXON = {3: 0.941, 4: 0.765, 5: 0.642, 6: 0.560, 7: 0.507, 8: 0.468, 9: 0.437, 10: 0.412}
_SEEN = (5, 10)


def critical_t(frame: pl.DataFrame, alpha: pl.Expr, *, two_sided: bool) -> pl.Series:
    """Return the critical value of ASTM E178 for a single outlier among `n` results.

    (n - 1)/√n √(t²/(n - 2 + t²)), t the point of Student's distribution with n - 2 degrees of freedom above which α/n
    lies, or α/2n where either end may stand out.
    """
    n = pl.col("n").cast(pl.Float64)
    usable = pl.when(n >= 3).then(n)
    upper = alpha / (usable * (2 if two_sided else 1))
    t = pl.Series("t", column(frame, t_point, upper, usable - 2))
    return (
        frame.with_columns(t=t)
        .select((n - 1) / n.sqrt() * (pl.col("t") ** 2 / (n - 2 + pl.col("t") ** 2)).sqrt())
        .to_series()
    )


def single_outlier(frame: pl.DataFrame, keys: list[str], alpha: float, *, two_sided: bool = True) -> pl.DataFrame:
    """Flag the result of each group that stands out most, if it does (ASTM E178).

    Parameters
    ----------
    frame
        `keys`, `value`.

    Returns
    -------
    `keys`, `n`, `suspect` (the value), `statistic` |x - x̄|/s, `critical`, `flagged`, `reason`.
    """
    grouped = (
        frame.filter(pl.col("value").is_not_null())
        .group_by(keys, maintain_order=True)
        .agg(pl.col("value").sort().alias("results"))
    )
    mean, s = pl.col("results").list.mean(), pl.col("results").list.std()
    low, high = pl.col("results").list.min(), pl.col("results").list.max()
    told = grouped.with_columns(
        n=pl.col("results").list.len().cast(pl.Int64),
        suspect=pl.when(high - mean >= mean - low).then(high).otherwise(low),
        mean=mean,
        s=s,
    ).drop("results")
    told = told.with_columns(
        reason=_reason(),
        statistic=pl.when(pl.col("s") > 0).then((pl.col("suspect") - pl.col("mean")).abs() / pl.col("s")),
        critical=critical_t(told, pl.lit(alpha), two_sided=two_sided),
    )
    return _flagged(told)


def _reason() -> pl.Expr:
    return (
        pl.when(pl.col("n") < 3)
        .then(pl.format("{} results: a test for outliers needs at least 3", "n"))
        .when(pl.col("s") == 0)
        .then(pl.lit("all results are equal"))
    )


def _flagged(told: pl.DataFrame) -> pl.DataFrame:
    judged = pl.col("reason").is_null()
    return told.with_columns(flagged=pl.when(judged).then(pl.col("statistic") > pl.col("critical")))


def dixon(frame: pl.DataFrame, keys: list[str]) -> pl.DataFrame:
    """Flag the result at either end that stands out by Dixon's ratio (x_N - x_(N-1))/(x_N - x_1) or mirrored.

    Returns
    -------
    As `single_outlier`; `mark` says that a critical value was not seen in print. Both ends are looked at, which
    about doubles the risk of flagging good results.
    """
    x = pl.col("results").list
    told = (
        frame.filter(pl.col("value").is_not_null())
        .group_by(keys, maintain_order=True)
        .agg(pl.col("value").sort().alias("results"))
        .with_columns(n=x.len().cast(pl.Int64), s=x.std())
        .with_columns(
            upper=x.get(-1, null_on_oob=True) - x.get(-2, null_on_oob=True),
            lower=x.get(1, null_on_oob=True) - x.get(0, null_on_oob=True),
            range=x.max() - x.min(),
        )
    )
    known = pl.DataFrame({"n": list(DIXON), "critical": list(DIXON.values())})
    told = told.join(known, on="n", how="left", maintain_order="left").with_columns(
        suspect=pl.when(pl.col("upper") >= pl.col("lower")).then(x.max()).otherwise(x.min()),
        statistic=pl.when(pl.col("range") > 0).then(pl.max_horizontal("upper", "lower") / pl.col("range")),
        mark=pl.when(~pl.col("n").is_in(_SEEN)).then(pl.lit("from memory")),
        reason=pl.coalesce(
            _reason(),
            pl.when(pl.col("critical").is_null()).then(pl.format("no critical value for {} results", "n")),
        ),
    )
    return _flagged(told).drop("results", "s", "upper", "lower", "range")
