"""Constants in print for the density of water: one must be recognised as no conversion of the other."""

from collections.abc import Iterator

from pipeline.compute import compute
from pipeline.validation.model import Entry, Finding, compared
from schemas.units import conversion


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the metric constant converted, against the one printed."""
    factor, _ = conversion("kg/m³", "lb/ft³")
    metric = compute("density", gmb=1.0).value
    inputs = f"{metric:g} kg/m³"
    yield compared(entry, "conversion of units", metric * factor, subject="density of water, lb/ft³", inputs=inputs)
