"""Write the bench book of one aggregate sample: a sheet for each test, a line for each portion or run."""

import io
from collections.abc import Mapping, Sequence
from datetime import datetime

import openpyxl

from tests.scenario.formats.book import Cell, fixed

#: Sheet -> heads of its columns.
SHEETS: dict[str, tuple[str, ...]] = {
    "Coarse in water": ("Portion", "Oven dry g", "Surface dry g", "Hung in water g", "Water C"),
    "Fine in flask": ("Portion", "Oven dry g", "Surface dry g", "Flask of water g", "Flask with sand g", "Water C"),
    "Sieves": ("Portion", "What", "Opening mm", "Mass g"),
    "Loose fill": ("Run", "Measure g", "Struck off g", "With plate g", "Full of water g", "Water C"),
    "Broken faces": (
        "Portion",
        "One face g",
        "Doubtful g",
        "No face g",
        "Two faces g",
        "Doubtful, second g",
        "Fewer than two g",
    ),
    "Shapes": ("Portion", "Stays on mm", "Looked at g", "Flat g", "Long g", "Flat and long g"),
    "Sand and clay": ("Run", "Top of clay mm", "Top of sand mm"),
}


def aggregatebook(
    sample: str, balance: str, ruler: str, saved: datetime, rows: Mapping[str, Sequence[Sequence[Cell]]]
) -> bytes:
    """Return the workbook; a test that was not made has no sheet."""
    workbook = openpyxl.Workbook()
    first = workbook.active
    assert first is not None
    first.title = "Aggregate"
    for row in (("Sample", sample), ("Balance", balance), ("Ruler", ruler), ("Saved", saved)):
        first.append(row)
    for name, heads in SHEETS.items():
        if name in rows:
            sheet = workbook.create_sheet(name)
            for line in (heads, *rows[name]):
                sheet.append(tuple(line))
    target = io.BytesIO()
    workbook.save(target)
    return fixed(target.getvalue())
