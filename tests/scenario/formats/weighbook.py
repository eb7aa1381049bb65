"""Write a balance's day as a workbook: one sheet, two lines of headings, a line for each portion."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import openpyxl

from tests.scenario.formats.book import fixed


@dataclass(frozen=True)
class Flask:
    """One portion in the flask: masses in g, water in °C, pressure held before in kPa."""

    sample: str
    part: str
    taken: datetime
    dry: float
    full: float
    with_mix: float
    water: float
    pressure: float


def weighbook(balance: str, saved: datetime, portions: Sequence[Flask]) -> bytes:
    """Return the workbook of a day."""
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    assert sheet is not None
    sheet.title = "Flask day"
    rows: list[tuple[object, ...]] = [
        ("Balance", balance),
        ("Saved", saved),
        (),
        ("Portion", None, "Taken", "Mass g", None, None, "Water", "Vacuum"),
        ("sample", "part", "at", "dry", "flask full", "flask with mix", "C", "kPa"),
    ]
    rows += [
        (p.sample, p.part, p.taken, *(round(m, 1) for m in (p.dry, p.full, p.with_mix, p.water, p.pressure)))
        for p in portions
    ]
    for row in [*rows, ("portions", len(portions))]:
        sheet.append(row)
    sheet.merge_cells("A4:B4")
    sheet.merge_cells("D4:F4")
    target = io.BytesIO()
    workbook.save(target)
    return fixed(target.getvalue())
