"""Masses retained -> sums per test portion and cumulative masses per sieve."""

from dataclasses import dataclass

import polars as pl

from pipeline.settings import Results
from schemas.vocabulary import MassRole, Method

_KEYS = ["sample_id", "specimen_no"]


@dataclass(frozen=True)
class Sieved:
    """One row per test portion; one row per portion and sieve, the pan left out."""

    specimens: pl.DataFrame
    sieves: pl.DataFrame


def build(weighing: pl.DataFrame, specimens: pl.DataFrame, parameters: Results) -> Sieved:
    """Add the sum retained to the portions, and cumulate the masses from the largest sieve down."""
    retained = weighing.filter(
        (pl.col("method") == Method.T30.value)
        & (pl.col("role") == MassRole.RETAINED.value)
        & pl.col("sieve_mm").is_not_null()
    ).select(*_KEYS, "sieve_mm", "mass_g")
    cumulative = retained.sort(*_KEYS, "sieve_mm", descending=[False, False, True]).with_columns(
        pl.col("mass_g").cum_sum().over(_KEYS).alias("mass_retained_cumulative")
    )
    totals = cumulative.group_by(_KEYS, maintain_order=True).agg(
        pl.col("mass_retained_cumulative").last().alias("mass_retained_total")
    )
    return Sieved(
        specimens.join(totals, on=_KEYS, how="left").with_columns(
            sieving_check=pl.lit(float(parameters.sieving_check_pct))
        ),
        cumulative.filter(pl.col("sieve_mm") > 0).drop("mass_g"),
    )
