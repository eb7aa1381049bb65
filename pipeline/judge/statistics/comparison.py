"""Two sets of results against each other: F then t, paired t, acceptable differences, propagated scatter.

Sources: AASHTO R 9 appendix; FHWA-HRT-04-046, chapter 7; KDOT 5.2.6; ASTM C670; ASTM D4460.
"""

import polars as pl

from pipeline.judge.statistics.distributions import column, f_above, t_two_sided
from schemas.vocabulary import FreedomForm

#: 2√2 σ: the difference between two results that is exceeded one time in twenty (ASTM C670, d2s).
D2S_FACTOR = 2 * 2**0.5


def summary(frame: pl.DataFrame, keys: list[str], value: str = "value") -> pl.DataFrame:
    """Return `keys`, `n`, `mean` and `s` (n - 1) of each group; the order of the rows makes no difference."""
    return (
        frame.filter(pl.col(value).is_not_null())
        .group_by(keys, maintain_order=True)
        .agg(pl.col(value).sort().alias("results"))
        .with_columns(
            pl.col("results").list.len().cast(pl.Int64).alias("n"),
            pl.col("results").list.mean().alias("mean"),
            pl.col("results").list.std().alias("s"),
        )
        .drop("results")
    )


def two_samples(frame: pl.DataFrame) -> pl.DataFrame:
    """Compare independent samples: F for the variances, then t for the means in the form F calls for.

    Parameters
    ----------
    frame
        `n_1`, `mean_1`, `s_1`, `n_2`, `mean_2`, `s_2`; `alpha` (two-sided significance); `form` (`FreedomForm`).

    Returns
    -------
    The frame with `f`, `f_df_larger`, `f_df_smaller`, `f_p`, `equal_variances`, `difference` (1 less 2), `t`, `t_df`,
    `t_p`, `significant` and `reason` (why there is no comparison; null otherwise).
    """
    one, two = pl.col("s_1") ** 2, pl.col("s_2") ** 2
    first_larger = one >= two
    n_1, n_2 = pl.col("n_1").cast(pl.Float64), pl.col("n_2").cast(pl.Float64)
    told = frame.with_columns(
        reason=_reason(),
        f=pl.when(first_larger).then(one / two).otherwise(two / one),
        f_df_larger=pl.when(first_larger).then(n_1 - 1).otherwise(n_2 - 1),
        f_df_smaller=pl.when(first_larger).then(n_2 - 1).otherwise(n_1 - 1),
        difference=pl.col("mean_1") - pl.col("mean_2"),
    )
    told = told.with_columns(
        f_p=(2 * column(told, f_above, pl.col("f"), pl.col("f_df_larger"), pl.col("f_df_smaller"))).clip(0, 1)
    ).with_columns(equal_variances=pl.col("f_p") > pl.col("alpha"))
    pooled = ((n_1 - 1) * one + (n_2 - 1) * two) / (n_1 + n_2 - 2)
    spread = pl.when("equal_variances").then(pooled * (1 / n_1 + 1 / n_2)).otherwise(one / n_1 + two / n_2).sqrt()
    told = told.with_columns(
        t=pl.col("difference") / spread,
        t_df=pl.when("equal_variances").then(n_1 + n_2 - 2).otherwise(effective_freedom()),
    )
    told = told.with_columns(t_p=pl.Series(column(told, t_two_sided, pl.col("t"), pl.col("t_df"))))
    computed = ("f", "f_df_larger", "f_df_smaller", "f_p", "equal_variances", "t", "t_df", "t_p")
    lost = pl.col("reason").is_not_null()
    return told.with_columns(pl.when(~lost).then(name).alias(name) for name in computed).with_columns(
        significant=pl.when(~lost).then(pl.col("t_p") < pl.col("alpha"))
    )


def effective_freedom() -> pl.Expr:
    """Return the degrees of freedom for unequal variances, in the published form `form` names.

    `welch`: (a + b)² / (a²/(n1 - 1) + b²/(n2 - 1)) with a = s1²/n1, b = s2²/n2. `plus_one`: n + 1 in their place, and
    2 less in all, as in FHWA and AASHTO sheets (from memory).
    """
    n_1, n_2 = pl.col("n_1").cast(pl.Float64), pl.col("n_2").cast(pl.Float64)
    a, b = pl.col("s_1") ** 2 / n_1, pl.col("s_2") ** 2 / n_2
    welch = (a + b) ** 2 / (a**2 / (n_1 - 1) + b**2 / (n_2 - 1))
    plus_one = (a + b) ** 2 / (a**2 / (n_1 + 1) + b**2 / (n_2 + 1)) - 2
    return pl.when(pl.col("form") == FreedomForm.PLUS_ONE.value).then(plus_one).otherwise(welch)


def _reason() -> pl.Expr:
    few = pl.min_horizontal("n_1", "n_2") < 2
    equal = (pl.col("s_1") == 0) | (pl.col("s_2") == 0)
    return (
        pl.when(few)
        .then(pl.format("{} and {} results: at least two on each side are needed", "n_1", "n_2"))
        .when(equal)
        .then(pl.lit("all results of one side are equal: their scatter says nothing"))
    )


def paired(frame: pl.DataFrame, keys: list[str]) -> pl.DataFrame:
    """Test whether the mean of paired differences is other than zero.

    Parameters
    ----------
    frame
        `keys`, `difference` (first less second of each pair), `alpha`.

    Returns
    -------
    `keys`, `n`, `mean` (the bias), `s`, `alpha`, `t`, `t_df` (n - 1), `t_p`, `significant`, `reason`.
    """
    alphas = frame.group_by(keys, maintain_order=True).agg(pl.col("alpha").first())
    told = summary(frame, keys, "difference").join(alphas, on=keys, how="left", nulls_equal=True, maintain_order="left")
    n = pl.col("n").cast(pl.Float64)
    told = told.with_columns(
        reason=pl.when(pl.col("n") < 2)
        .then(pl.format("{} pair: at least two are needed", "n"))
        .when(pl.col("s") == 0)
        .then(pl.lit("all differences are equal: their scatter says nothing")),
        t_df=n - 1,
        t=pl.when(pl.col("s") > 0).then(pl.col("mean") / (pl.col("s") / n.sqrt())),
    )
    told = told.with_columns(t_p=pl.Series(column(told, t_two_sided, pl.col("t"), pl.col("t_df"))))
    return told.with_columns(significant=pl.when(pl.col("reason").is_null()).then(pl.col("t_p") < pl.col("alpha")))


def acceptable_difference(sigma: pl.Expr) -> pl.Expr:
    """Return the acceptable difference of two results (d2s = 2√2 σ, ASTM C670) from a standard deviation."""
    return sigma * D2S_FACTOR


def sigma_of_voids(gmb: pl.Expr, gmm: pl.Expr, sigma_gmb: pl.Expr, sigma_gmm: pl.Expr) -> pl.Expr:
    """Return the standard deviation of air voids in % from those of Gmb and Gmm (ASTM D4460)."""
    return ((sigma_gmb / gmm) ** 2 + (gmb * sigma_gmm / gmm**2) ** 2).sqrt() * 100


def line_through(x: pl.Expr, y: pl.Expr) -> dict[str, pl.Expr]:
    """Return `r`, `slope` and `intercept` of y on x by least squares; a high r says nothing of a bias."""
    dx, dy = x - x.mean(), y - y.mean()
    slope = (dx * dy).sum() / (dx**2).sum()
    return {
        "r": (dx * dy).sum() / ((dx**2).sum() * (dy**2).sum()).sqrt(),
        "slope": slope,
        "intercept": y.mean() - slope * x.mean(),
    }
