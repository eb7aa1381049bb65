"""Shapes of particles: masses by size and role, and the share of every size in the gradation of the sample."""

from dataclasses import dataclass

import polars as pl

from pipeline.formulas.model import Grain, Table
from pipeline.settings import Results
from schemas.vocabulary import MassRole, Method

_SPECIMEN = ["sample_id", "specimen_no"]
_KEYS = [*_SPECIMEN, "sieve_mm"]
_ROLES = (MassRole.PARTICLES, MassRole.FLAT, MassRole.ELONGATED, MassRole.FLAT_ELONGATED)


@dataclass(frozen=True)
class Shaped:
    """One row per specimen and size examined; the same with all sizes of the gradation down to the smallest one."""

    sieves: pl.DataFrame
    fractions: pl.DataFrame


def build(weighing: pl.DataFrame, tables: dict[Table, pl.DataFrame], parameters: Results) -> Shaped:
    """Return the masses by role of every size examined, and the sizes with their share in the sample (T 27).

    Parameters
    ----------
    weighing
        Current rows.
    tables
        Those of T 27, portions and sieves.
    """
    sieves = (
        weighing.filter(
            (pl.col("method") == Method.D4791.value)
            & pl.col("role").is_in([role.value for role in _ROLES])
            & (pl.col("sieve_mm") > 0)
        )
        .group_by(_KEYS, maintain_order=True)
        .agg(
            pl.col("mass_g").filter(pl.col("role") == role.value).first().alias(f"mass_{role.value}") for role in _ROLES
        )
    )
    smallest = sieves.group_by(_SPECIMEN, maintain_order=True).agg(pl.col("sieve_mm").min().alias("smallest"))
    present = (
        smallest.join(_shares(tables), on="sample_id", how="inner")
        .filter(pl.col("sieve_mm") >= pl.col("smallest") - 1e-6)
        .drop("smallest")
    )
    fractions = present.join(sieves, on=_KEYS, how="full", coalesce=True).sort(_KEYS)
    return Shaped(sieves, fractions.with_columns(small=pl.lit(float(parameters.small_fraction_pct))))


def _shares(tables: dict[Table, pl.DataFrame]) -> pl.DataFrame:
    """Return what each sieve retains of the sample in %, the mean of its portions."""
    portions = tables[Grain.SPECIMEN, Method.T27].select(
        *_SPECIMEN, portion=pl.coalesce("mass_before_wash", "mass_dry")
    )
    return (
        tables[Grain.SPECIMEN_SIEVE, Method.T27]
        .join(portions, on=_SPECIMEN, how="inner")
        .with_columns(share=100 * pl.col("mass_retained") / pl.col("portion"))
        .filter(pl.col("share").is_not_null())
        .group_by("sample_id", "sieve_mm", maintain_order=True)
        # Sorted, so that the sum is the same whatever the order of arrival.
        .agg(pl.col("share").sort().mean())
    )
