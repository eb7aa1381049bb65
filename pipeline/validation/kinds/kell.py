"""Density of water by Kell's equation, in both units."""

from collections.abc import Iterator

import polars as pl

from pipeline.formulas.water import density
from pipeline.validation.model import Entry, Finding, compared
from schemas.units import conversion


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the density at 25 °C in kg/m³ and in lb/ft³."""
    at_25 = pl.select(density(pl.lit(25.0))).item()
    factor, _ = conversion("kg/m³", "lb/ft³")
    for subject, value, stated in (("kg/m³", at_25, entry["kg_m3"]), ("lb/ft³", at_25 * factor, entry["lb_ft3"])):
        yield compared(entry, "equation", value, stated, 0.0005, subject=f"density of water, {subject}", inputs="25 °C")
