"""Control charts: individuals, moving range, moving average of four, EWMA, and run rules.

Sources: NIST/SEMATECH e-Handbook 6.3.2.2 and 6.3.2.4; run rules of the Western Electric Statistical
Quality Control Handbook, as general statistics libraries document them.
"""

import polars as pl

#: d2 and D4 of ranges of two (NIST/SEMATECH e-Handbook 6.3.2).
D2, D4 = 1.128, 3.267
#: Results in a moving average.
SPAN = 4
#: Weight of the newest result in the EWMA.
LAMBDA = 0.3
#: Half-width of the EWMA's limits in standard deviations: 3 √(λ/(2 - λ)).
EWMA_WIDTH = 3 * (LAMBDA / (2 - LAMBDA)) ** 0.5


def charted(frame: pl.DataFrame, key: str, order: str, *, run_of: int = 8) -> pl.DataFrame:
    """Add the points of all charts to series of results.

    Parameters
    ----------
    frame
        `key` (which series), `order` (place in it, no two alike), `value`, `target` (start and centre of the EWMA;
        null: the mean).
    run_of
        Results in a row on one side that are a signal.

    Returns
    -------
    The frame sorted, with `n`, `centre`, `moving_range`, `mean_range`, `sigma` (mean range / 1.128), `lower_control`,
    `upper_control`, `range_control`, `moving_average`, `average_lower`, `average_upper`, `ewma`, `ewma_lower`,
    `ewma_upper`, and `signals`: the rules this result breaks, separated by spaces (null for none).
    """
    sorted_ = frame.sort(key, order)
    x = pl.col("value")
    charts = sorted_.with_columns(
        n=pl.len().over(key).cast(pl.Int64),
        centre=_mean("value", key),
        moving_range=(x - x.shift(1).over(key)).abs(),
    ).with_columns(mean_range=_mean("moving_range", key))
    charts = charts.with_columns(sigma=pl.col("mean_range") / pl.lit(D2))
    three = pl.col("sigma") * 3
    last = sum((x.shift(back).over(key) for back in range(1, SPAN)), start=x)
    charts = charts.with_columns(
        lower_control=pl.col("centre") - three,
        upper_control=pl.col("centre") + three,
        range_control=pl.col("mean_range") * D4,
        moving_average=last * (1 / SPAN),
        average_lower=pl.col("centre") - three * SPAN**-0.5,
        average_upper=pl.col("centre") + three * SPAN**-0.5,
    )
    return _ewma(charts, key, order).with_columns(signals=_signals(key, run_of))


def _mean(name: str, key: str) -> pl.Expr:
    return pl.col(name).sort().mean().over(key)


def _ewma(charts: pl.DataFrame, key: str, order: str) -> pl.DataFrame:
    """Add z_i = λ x_i + (1 - λ) z_(i-1), which starts at the target: it stands as a result before the first."""
    target = pl.coalesce("target", "centre")
    starts = charts.unique(key, keep="first", maintain_order=True).select(key, target.alias("value"), first=pl.lit(0))
    run = (
        pl.concat([starts, charts.select(key, "value", order, first=pl.lit(1))], how="diagonal_relaxed")
        .sort(key, "first", order)
        .with_columns(ewma=pl.col("value").ewm_mean(alpha=LAMBDA, adjust=False, ignore_nulls=True).over(key))
        .filter(pl.col("first") == 1)
    )
    return charts.with_columns(
        run["ewma"], ewma_lower=target - pl.col("sigma") * EWMA_WIDTH, ewma_upper=target + pl.col("sigma") * EWMA_WIDTH
    )


def _signals(key: str, run_of: int) -> pl.Expr:
    z = pl.when(pl.col("sigma") > 0).then((pl.col("value") - pl.col("centre")) / pl.col("sigma"))
    averages = (pl.col("moving_average") < pl.col("average_lower")) | (
        pl.col("moving_average") > pl.col("average_upper")
    )
    drift = (pl.col("ewma") < pl.col("ewma_lower")) | (pl.col("ewma") > pl.col("ewma_upper"))
    rules = {
        "beyond_3_sigma": z.abs() > 3,
        "two_of_three_beyond_2_sigma": _either(z, 2, 3, 2, key),
        "four_of_five_beyond_1_sigma": _either(z, 1, 5, 4, key),
        f"{run_of}_on_one_side": _either(z, 0, run_of, run_of, key),
        "moving_average": averages & (pl.col("sigma") > 0),
        "ewma": drift & (pl.col("sigma") > 0),
    }
    told = pl.concat_str(
        [pl.when(broken.fill_null(value=False)).then(pl.lit(rule)) for rule, broken in rules.items()],
        separator=" ",
        ignore_nulls=True,
    )
    return pl.when(told != "").then(told)


def _either(z: pl.Expr, beyond: float, among: int, count: int, key: str) -> pl.Expr:
    """Return whether `count` of the last `among` results lie beyond so many sigma on one and the same side."""
    sides = []
    for side in (z > beyond, z < -beyond):
        hit = side.fill_null(value=False).cast(pl.Int64)
        total = sum((hit.shift(back, fill_value=0).over(key) for back in range(1, among)), start=hit)
        sides.append((total >= count) & side)
    return sides[0] | sides[1]
