"""Masses retained -> sums per test portion and cumulative masses per sieve."""

from dataclasses import dataclass

import polars as pl

from pipeline.formulas.minimum_mass import least, standing
from pipeline.formulas.nominal_size import SERIES, sizes
from pipeline.settings import Results
from schemas.vocabulary import MassRole, Method

#: Methods that sort aggregate on sieves.
SIEVINGS = (Method.T30, Method.T27)
_KEYS = ["sample_id", "specimen_no"]


@dataclass(frozen=True)
class Sieved:
    """One row per test portion; one row per portion and sieve, the pan left out."""

    specimens: pl.DataFrame
    sieves: pl.DataFrame


def build(weighing: pl.DataFrame, specimens: pl.DataFrame, method: Method, parameters: Results) -> Sieved:
    """Add the sum retained to the portions, and cumulate the masses from the largest sieve down."""
    retained = weighing.filter(
        (pl.col("method") == method.value)
        & (pl.col("role") == MassRole.RETAINED.value)
        & pl.col("sieve_mm").is_not_null()
    ).select(*_KEYS, "sieve_mm", "mass_g")
    cumulative = retained.sort(*_KEYS, "sieve_mm", descending=[False, False, True]).with_columns(
        pl.col("mass_g").cum_sum().over(_KEYS).alias("mass_retained_cumulative")
    )
    totals = cumulative.group_by(_KEYS, maintain_order=True).agg(
        pl.col("mass_retained_cumulative").last().alias("mass_retained_total")
    )
    sieves = cumulative.filter(pl.col("sieve_mm") > 0)
    portions = specimens.join(totals, on=_KEYS, how="left").with_columns(
        sieving_check=pl.lit(float(parameters.sieving_check_pct))
    )
    if method is Method.T27:
        portions = portions.join(_least(portions, sieves, parameters), on=_KEYS, how="left")
    return Sieved(
        portions,
        sieves.select(
            *_KEYS,
            "sieve_mm",
            "mass_retained_cumulative",
            pl.col("mass_g").alias("mass_retained"),
            sieve_opening="sieve_mm",
            sieve_frame=pl.lit(float(parameters.sieve_frame_mm)),
        ),
    )


def _least(portions: pl.DataFrame, sieves: pl.DataFrame, parameters: Results) -> pl.DataFrame:
    """Return the least mass each portion should have, by the nominal size it shows itself."""
    mass = pl.coalesce("mass_before_wash", "mass_dry")
    passing = 100 - 100 * pl.col("mass_retained_cumulative") / pl.col("portion")
    at = {sieve: passing.filter((pl.col("sieve_mm") - sieve).abs() < 1e-6).first() for sieve in SERIES}
    shares = (
        sieves.join(portions.select(*_KEYS, portion=mass), on=_KEYS, how="inner")
        .group_by(_KEYS, maintain_order=True)
        .agg(*(value.alias(f"{sieve:g}") for sieve, value in at.items()))
    )
    nominal = sizes([pl.col(f"{sieve:g}") for sieve in SERIES], parameters.nominal_size).nominal
    ladder = parameters.minimum_portion
    return shares.select(*_KEYS, least_mass=least(nominal, ladder, standing(ladder, parameters.limits)))
