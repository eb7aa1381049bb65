"""Density gauge against cores: differences, their mean and spread, and the corrected density of a further place."""

from collections.abc import Iterator
from typing import Any

import polars as pl

from pipeline.derive import Inputs, derive
from pipeline.settings import Results
from pipeline.validation.model import Entry, Finding, compared
from pipeline.validation.records import design, frame, of_gmb, of_gmm, sample
from schemas.units import conversion

_WAY = "from records"
_FURTHER = "further"


def check(entry: Entry) -> Iterator[Finding]:
    """Yield every figure of the example, in lb/ft³; records hold kg/m³."""
    pound, _ = conversion("lb/ft³", "kg/m³")
    values = _derived(entry, pound)
    found = {(row["property"], row["specimen_no"]): row for row in values.to_dicts()}
    inputs = f"{len(entry['cores'])} cores with gauge readings"
    given: dict[str, Any] = {"inputs": inputs}

    def lb(prop: str, place: str, column: str = "value") -> float:
        return float(found[prop, place][column]) / pound

    for number, published in enumerate(entry["differences"], start=1):
        value = lb("core_gauge_difference", str(number))
        covers = ("core_gauge_difference/of_place",)
        yield compared(entry, _WAY, value, published, 1e-6, subject=f"difference {number}", covers=covers, **given)
    mean = lb("core_gauge_correlation", _FURTHER)
    yield compared(entry, _WAY, mean, entry["mean"], 1e-6, subject="mean difference", **given)
    deviation = lb("core_gauge_correlation", _FURTHER, "spread")
    yield compared(entry, _WAY, deviation, entry["deviation"], 0.0005, subject="standard deviation", **given)
    corrected = lb("gauge_density_corrected", _FURTHER)
    reading = corrected - mean
    yield compared(entry, _WAY, reading, entry["mean_reading"], 1e-6, subject="mean reading", **given)
    covers = ("gauge_density_corrected/by_cores",)
    yield compared(
        entry, _WAY, corrected, entry["corrected"], 0.05, subject="corrected density", covers=covers, **given
    )
    value, covers = found["relative_compaction_gauge", _FURTHER]["value"], ("relative_compaction_gauge/against_lot",)
    yield compared(entry, _WAY, value, entry["published"], subject="relative compaction", covers=covers, **given)


def _derived(entry: Entry, pound: float) -> pl.DataFrame:
    water = Results().water_kg_m3
    numbers = [str(number) for number, _ in enumerate(entry["cores"], start=1)]
    pairs = list(zip(numbers, entry["cores"], entry["gauge"], strict=True))
    weighings = [row for number, core, _ in pairs for row in of_gmb(core * pound / water, "C1", number)]
    readings = [_read(number, 1, gauge * pound) for number, _, gauge in pairs]
    readings += [_read(_FURTHER, number, each * pound) for number, each in enumerate(entry["readings"], start=1)]
    made = {
        "sample": [sample(), sample("C1", material="core")],
        "mix_design": [design()],
        "weighing": weighings + of_gmm(entry["maximum"] * pound / water),
        "gauge_reading": readings,
    }
    values = derive(Inputs.of(**{record: frame(record, each) for record, each in made.items()})).property_values
    return values.filter(pl.col("sample_id") == "C1", pl.col("level") == "specimen")


def _read(place: str, number: int, density: float) -> dict[str, object]:
    """Return one reading of the gauge at a place."""
    return {"sample_id": "C1", "specimen_no": place, "reading": number, "gauge_density_kg_m3": density}
