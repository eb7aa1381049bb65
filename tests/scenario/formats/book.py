"""Write a register workbook whose bytes do not depend on the day it is written."""

import io
import re
import zipfile
from collections.abc import Mapping, Sequence
from datetime import date, datetime

import openpyxl

Cell = str | float | int | date | datetime | None

#: Sheet -> column heads, in the order of the register.
SHEETS: dict[str, tuple[str, ...]] = {
    "Laboratories": ("Laboratory", "Name", "Region"),
    "Projects": ("Project", "Name", "Character", "Client", "Laboratory", "Limits"),
    "Samples": (
        "Sample",
        "Project",
        "Mix",
        "Material",
        "Phase",
        "Laboratory",
        "Lot",
        "Sublot",
        "Taken on",
        "Place",
        "Tonnage t",
        "Batched binder %",
        "Purpose",
        "Split of",
    ),
    "Instruments": ("Instrument", "Laboratory", "Kind", "Readability g"),
    "Calibrations": ("Instrument", "Calibrated on", "Due on", "Outcome"),
    "Cores": ("Sample", "Core", "Station m", "Offset m", "Lift", "Thickness mm", "Replaces"),
}

_FIXED = (2026, 1, 1, 0, 0, 0)
_STAMPS = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*(<)")


def fixed(workbook: bytes) -> bytes:
    """Give every part of the package the same date, in the zip entries and in the document properties."""
    target = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook)) as source, zipfile.ZipFile(target, "w") as archive:
        for name in source.namelist():
            content = source.read(name)
            if name == "docProps/core.xml":
                content = _STAMPS.sub(rb"\g<1>2026-01-01T00:00:00Z\g<2>", content)
            # Stored, not deflated: compressed bytes differ between versions of the compression library.
            archive.writestr(zipfile.ZipInfo(name, _FIXED), content)
    return target.getvalue()


def book(written: datetime, rows: Mapping[str, Sequence[Sequence[Cell]]]) -> bytes:
    """Return a register workbook: sheet `About` and the six sheets of the register, empty ones with heads only."""
    workbook = openpyxl.Workbook()
    about = workbook.active
    assert about is not None
    about.title = "About"
    about["A1"] = "Register of the laboratories"
    about["A2"] = "Written"
    about["B2"] = written
    for name, heads in SHEETS.items():
        sheet = workbook.create_sheet(name)
        sheet.append(heads)
        for row in rows.get(name, ()):
            sheet.append(tuple(row))
    target = io.BytesIO()
    workbook.save(target)
    return fixed(target.getvalue())
