"""Does this layout claim this export? Looks at the head only, and into a workbook's list of sheets."""

import re
import zipfile

from plugins.api import Export
from plugins.layout.model import Layout

_ZIP = b"PK\x03\x04"
_SHEET = re.compile(r"<(?:\w+:)?sheet\s[^>]*?name=[\"']([^\"']*)[\"']")
_LIST_LIMIT = 1_000_000


def claim(layout: Layout, export: Export) -> str | None:
    """Return why the layout claims the export, or None."""
    if layout.kind == "workbook":
        return _claim_workbook(layout, export)
    wanted = layout.recognition
    if export.head.startswith(_ZIP):
        return None
    if wanted.starts is not None and not export.head_text.startswith(wanted.starts):
        return None
    if not all("".join(text.split()) in export.head_squeezed for text in wanted.contains):
        return None
    found = [f"it starts with '{wanted.starts.strip()}'"] if wanted.starts is not None else []
    return " and ".join([*found, *(f"its head contains '{text}'" for text in wanted.contains)])


def _claim_workbook(layout: Layout, export: Export) -> str | None:
    if not export.head.startswith(_ZIP):
        return None
    names = sheet_names(export)
    wanted = layout.recognition.sheets
    if names is None or not set(wanted) <= set(names):
        return None
    return "it is a workbook with the sheets " + ", ".join(wanted)


def sheet_names(export: Export) -> tuple[str, ...] | None:
    """Return the names of a workbook's sheets, or None where the file is no workbook that can be opened."""
    try:
        with zipfile.ZipFile(export.path) as archive, archive.open("xl/workbook.xml") as listing:
            text = listing.read(_LIST_LIMIT).decode("utf-8", errors="replace")
    except (OSError, KeyError, zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, ValueError):
        return None
    return tuple(_SHEET.findall(text))
