"""Does this layout claim this export? Looks at the head only, and into a workbook's list of sheets."""

import codecs
import re
import sqlite3
import zipfile
from contextlib import closing

from plugins.api import Export
from plugins.layout.model import Layout
from plugins.text import marked_encoding

_ZIP = b"PK\x03\x04"
_SQLITE = b"SQLite format 3\x00"

#: Encodings the head of an export is read in anyway.
_COMMON = frozenset({"ascii", "utf-8", "utf-8-sig", "cp1252", "utf-16"})
_SHEET = re.compile(r"<(?:\w+:)?sheet\s[^>]*?name=[\"']([^\"']*)[\"']")
_LIST_LIMIT = 1_000_000


def claim(layout: Layout, export: Export) -> str | None:
    """Return why the layout claims the export, or None."""
    wanted = layout.recognition
    if wanted.file_name is not None and not re.search(wanted.file_name, export.name):
        return None
    return _CLAIMS.get(layout.kind, _claim_text)(layout, export)


def _claim_text(layout: Layout, export: Export) -> str | None:
    wanted = layout.recognition
    if export.head.startswith((_ZIP, _SQLITE)):
        return None
    text, squeezed = _head(layout, export)
    if wanted.starts is not None and not text.startswith(wanted.starts):
        return None
    if not all("".join(one.split()) in squeezed for one in wanted.contains):
        return None
    found = [f"it starts with '{wanted.starts.strip()}'"] if wanted.starts is not None else []
    return " and ".join([*found, *(f"its head contains '{one}'" for one in wanted.contains)])


def _head(layout: Layout, export: Export) -> tuple[str, str]:
    """Return the head as text and without white space; a layout of a rare encoding looks through that."""
    rare = next((name for name in layout.writing.encodings if codecs.lookup(name).name not in _COMMON), None)
    if rare is None or marked_encoding(export.head):
        return export.head_text, export.head_squeezed
    text = codecs.getincrementaldecoder(rare)("replace").decode(export.head).lstrip()
    return text, "".join(text.split())


def _claim_workbook(layout: Layout, export: Export) -> str | None:
    if not export.head.startswith(_ZIP):
        return None
    names = sheet_names(export)
    wanted = layout.recognition.sheets
    if names is None or not set(wanted) <= set(names):
        return None
    return "it is a workbook with the sheets " + ", ".join(wanted)


def _claim_database(layout: Layout, export: Export) -> str | None:
    if not export.head.startswith(_SQLITE):
        return None
    wanted = layout.recognition.tables
    if not set(wanted) <= set(table_names(export)):
        return None
    return "it is a database with the tables " + ", ".join(wanted)


def table_names(export: Export) -> tuple[str, ...]:
    """Return the names of a database's tables; none where it cannot be opened. The file is opened to read only."""
    try:
        address = export.path.resolve().as_uri() + "?mode=ro&immutable=1"
        with closing(sqlite3.connect(address, uri=True)) as database:
            return tuple(name for (name,) in database.execute("select name from sqlite_master where type = 'table'"))
    except (sqlite3.Error, OSError):
        return ()


def sheet_names(export: Export) -> tuple[str, ...] | None:
    """Return the names of a workbook's sheets, or None where the file is no workbook that can be opened."""
    try:
        with zipfile.ZipFile(export.path) as archive, archive.open("xl/workbook.xml") as listing:
            text = listing.read(_LIST_LIMIT).decode("utf-8", errors="replace")
    except (OSError, KeyError, zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, ValueError):
        return None
    return tuple(_SHEET.findall(text))


#: Kinds that are not recognised by the text of their head.
_CLAIMS = {"workbook": _claim_workbook, "sqlite": _claim_database}
