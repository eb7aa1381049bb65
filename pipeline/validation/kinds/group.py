"""Strength ratio of a dry and a conditioned group, through the derivation of load tests."""

import math
from collections.abc import Iterator
from typing import Any

from pipeline.derive import Inputs, derive
from pipeline.validation.model import Entry, Finding, compared
from pipeline.validation.records import design, frame, sample

_WAY = "from records"
_THICKNESS, _DIAMETER = 95.0, 150.0


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the mean strength of each group and their ratio, from loads that give the stated strengths."""
    rows = [_broken(state, number, each) for state in _STATES for number, each in enumerate(entry[state])]
    made = {"sample": [sample()], "mix_design": [design()], "load_test": rows}
    values = derive(Inputs.of(**{record: frame(record, each) for record, each in made.items()})).property_values
    found = {row["property"]: row["value"] for row in values.to_dicts() if row["level"] == "sample"}
    inputs = f"{len(rows)} strengths, as loads of {_DIAMETER:g} x {_THICKNESS:g} mm specimens"
    for state in _STATES:
        given: dict[str, Any] = {"subject": f"mean strength, {state}", "inputs": inputs}
        yield compared(entry, _WAY, found[f"tensile_strength_{state}"], entry[f"mean_{state}"], 0.005, **given)
    yield compared(entry, _WAY, found["tsr"], entry["tsr"], 0.005, subject="strength ratio", inputs=inputs)


_STATES = ("dry", "conditioned")


def _broken(state: str, number: int, strength: float) -> dict[str, object]:
    """Return a load test whose stated peak gives the strength: S = 2000 P / (π t D)."""
    return {
        "sample_id": "S1",
        "specimen_no": f"{state} {number}",
        "method": "t283",
        "conditioning": state,
        "specimen_thickness_mm": _THICKNESS,
        "specimen_diameter_mm": _DIAMETER,
        "peak_load_stated_n": strength * math.pi * _THICKNESS * _DIAMETER / 2000,
    }
