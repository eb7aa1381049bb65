"""One view: its query and what its header says of it; the header of a view file is where it is written."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from warehouse import ddl

#: Folder of the view files, a folder per family.
FOLDER = Path(__file__).parent / "views"

_PARTS = ("purpose", "grain", "cautions", "columns")


class ViewHeaderError(ValueError):
    """A view file whose header is not complete: a fault of this program, found by its tests."""


@dataclass(frozen=True)
class View:
    """One relation: its query, and what its header says of it and of each column."""

    name: str
    query: str
    purpose: str
    grain: str
    cautions: str
    columns: Mapping[str, str]
    family: str = field(default="", compare=False)

    def comment(self) -> str:
        """Return the comment of the view as a whole."""
        return f"{self.purpose} One row per {self.grain}. Cautions: {self.cautions}"


def _referred(text: str) -> str:
    """Return the sentence of a column line; `= relation.column` takes it from there, where it is written once."""
    if not text.startswith("= "):
        return text
    return _sentence(*text[2:].split("."))


@cache
def _sentence(relation: str, column_name: str) -> str:
    for table in ddl.tables():
        if table.name == relation:
            for column in ddl.columns(table):
                if column.name == column_name:
                    return ddl.comment(column)
    for path in FOLDER.glob(f"*/{relation}.sql"):
        line = re.search(rf"^--   {column_name}: (.+)$", path.read_text(encoding="utf-8"), re.MULTILINE)
        if line:
            return _referred(line[1].strip())
    raise ViewHeaderError(f"a view header refers to {relation}.{column_name}, which no table or view file has")


def parse(name: str, text: str, family: str = "") -> View:
    """Split a view file into header and query.

    The header is a block of comment lines: `purpose:`, `grain:`, `cautions:`, then `columns:` with a line
    `column: sentence` each, the sentence being `= relation.column` where a table already says it.
    """
    lines = text.splitlines()
    count = next((at for at, line in enumerate(lines) if not line.startswith("--")), len(lines))
    found: dict[str, str] = {}
    columns: dict[str, str] = {}
    for line in lines[:count]:
        key, _, value = line.removeprefix("--").strip().partition(":")
        if line.startswith("--   "):
            columns[key] = _referred(value.strip())
        elif key in _PARTS:
            found[key] = value.strip()
        else:
            raise ViewHeaderError(f"view '{name}': header line not understood: {line}")
    missing = [part for part in _PARTS if part not in found]
    if missing:
        raise ViewHeaderError(f"view '{name}': the header lacks {', '.join(missing)}")
    query = "\n".join(lines[count:]).strip()
    return View(name, query, found["purpose"], found["grain"], found["cautions"], columns, family)
