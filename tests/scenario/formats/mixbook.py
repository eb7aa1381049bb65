"""Write a mix design as a workbook: a sheet of labels and values, a sheet with the curve."""

import io
from collections.abc import Mapping

import openpyxl

from tests.scenario.formats.book import Cell, fixed

#: Value of the design -> its label on the sheet, in the order of the lines.
LABELS = {
    "written": "Saved",
    "mix": "Mix",
    "revision": "Issue",
    "valid_from": "In force from",
    "project": "Project",
    "plant": "Plant",
    "nmas_mm": "Largest nominal size, mm",
    "binder": "Binder grade",
    "gb": "Binder gravity",
    "pb_pct": "Binder, % of mix",
    "gsb": "Aggregate bulk gravity",
    "gmm": "Maximum gravity",
    "air_voids_pct": "Voids, %",
    "vma_pct": "Voids in mineral aggregate, %",
    "ignition_correction_pct": "Furnace correction, %",
    "recycled_pct": "Reclaimed, % of mix",
    "initial": "Turns, first level",
    "design": "Turns, design level",
    "maximum": "Turns, last level",
}


def mixbook(head: Mapping[str, Cell], gradation: Mapping[float, float]) -> bytes:
    """Return the workbook of one revision."""
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    assert sheet is not None
    sheet.title = "Design"
    for key, label in LABELS.items():
        sheet.append((label, head.get(key)))
    curve = workbook.create_sheet("Curve")
    for row in [("Opening mm", "Passing %"), *gradation.items()]:
        curve.append(row)
    target = io.BytesIO()
    workbook.save(target)
    return fixed(target.getvalue())
