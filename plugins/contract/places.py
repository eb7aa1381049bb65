"""What stands in an export at the place a row names, and whether a value of the row stands there."""

import json
import re
import sqlite3
from contextlib import closing, suppress
from functools import lru_cache
from pathlib import Path
from typing import Any

from plugins.contract.hostile import is_text, text_of

_TOKEN = re.compile(r"[-+]?\d[\d ., ]*\d|\d")
_SQLITE = b"SQLite format 3\x00"

#: Units instruments may have written a number in, per stored unit.
_FOREIGN = {
    "g": ("kg", "lb", "oz"),
    "mm": ("in", "cm", "m"),
    "m": ("ft", "km", "in"),
    "°C": ("°F", "K"),
    "kPa": ("psi", "bar", "MPa", "mmHg", "hPa", "Pa"),
    "N": ("kN", "lbf"),
    "kg/m³": ("lb/ft**3", "g/cm**3"),
    "s": ("min", "h"),
    "min": ("h", "s"),
    "t": ("kg", "ton"),
    "mm/min": ("in/min", "mm/s"),
}


class Places:
    """The lines, sheets, lists and tables of one export, looked up by part and line as rows name them."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._content = path.read_bytes()
        self._parts: dict[str | None, list[str] | None] = {}

    def count(self, part: str | None) -> int | None:
        """Return how many lines a part has, or None where it cannot be looked up."""
        lines = self._lines(part)
        return None if lines is None else len(lines)

    def at(self, part: str | None, line: int) -> str | None:
        """Return what stands there, or None where it cannot be looked up or does not exist."""
        lines = self._lines(part)
        return lines[line - 1] if lines is not None and 0 < line <= len(lines) else None

    def anywhere(self) -> str:
        """Return all there is, as text."""
        if is_text(self._content):
            return text_of(self._content)
        return "\n".join(line for part in self._names() for line in self._lines(part) or [])

    def _names(self) -> list[str]:
        if self._content.startswith(b"PK"):
            import fastexcel

            return list(fastexcel.read_excel(self._content).sheet_names)
        if self._content.startswith(_SQLITE):
            with closing(self._database()) as opened:
                rows = opened.execute("select name from sqlite_master where type in ('table', 'view')").fetchall()
            return [str(name) for (name,) in rows]
        return []

    def _lines(self, part: str | None) -> list[str] | None:
        if part not in self._parts:
            self._parts[part] = self._look_up(part)
        return self._parts[part]

    def _look_up(self, part: str | None) -> list[str] | None:
        if is_text(self._content):
            text = text_of(self._content)
            lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
            return lines if part is None else (_element(text, part) or lines)
        if part is None:
            return None
        with suppress(Exception):  # a part this kit cannot look up is told as such
            return self._sheet(part) if self._content.startswith(b"PK") else self._rows(part)
        return None

    def _sheet(self, name: str) -> list[str]:
        import fastexcel
        import polars as pl

        book = fastexcel.read_excel(self._content)
        frame = book.load_sheet(name, header_row=None, skip_rows=0, dtypes="string").to_polars()
        joined = frame.select(pl.concat_str(pl.all().fill_null(""), separator="\t"))
        return [str(text) for text in joined.to_series()]

    def _database(self) -> sqlite3.Connection:
        return sqlite3.connect(f"{self._path.absolute().as_uri()}?mode=ro&immutable=1", uri=True)

    def _rows(self, table: str) -> list[str]:
        quoted = table.replace('"', '""')
        with closing(self._database()) as opened:
            rows = opened.execute(f'select * from "{quoted}"').fetchall()
        return ["\t".join("" if cell is None else str(cell) for cell in row) for row in rows]


def _element(text: str, part: str) -> list[str] | None:
    """Return the elements of the list at a dotted path of a JSON document."""
    try:
        found: Any = json.loads(text)
    except (ValueError, RecursionError):
        return None
    for key in part.split("."):
        found = found.get(key) if isinstance(found, dict) else None
    return [json.dumps(item, ensure_ascii=False) for item in found] if isinstance(found, list) else None


def numbers_in(text: str) -> set[float]:
    """Return every number a text may be read as holding, with decimal point or comma."""
    found: set[float] = set()
    for token in _TOKEN.findall(text):
        packed = token.replace(" ", "").replace("\u00a0", "")
        for spelling in {
            packed,
            packed.replace(",", "."),
            packed.replace(",", ""),
            packed.replace(".", "").replace(",", "."),
        }:
            with suppress(ValueError):
                found.add(float(spelling))
        for piece in re.split(r"[ ,;]", token):
            with suppress(ValueError):
                found.add(float(piece))
    return found | {-number for number in found}


@lru_cache(maxsize=64)
def _factors(stored: str) -> tuple[tuple[float, float], ...]:
    from schemas.units import UnknownUnitError, conversion

    pairs = []
    for given in _FOREIGN.get(stored, ()):
        with suppress(UnknownUnitError):
            pairs.append(conversion(given, stored))
    return tuple(pairs)


def stands(value: object, unit: str | None, text: str, numbers: set[float]) -> bool:
    """Return whether a value of a row stands in a text: as a number in its own or another unit, or as words."""
    if isinstance(value, bool) or value is None:
        return False
    if isinstance(value, int | float):
        if any(_near(value, number) for number in numbers):
            return True
        return any(
            _near(value, number * factor + offset) for factor, offset in _factors(unit or "") for number in numbers
        )
    word = re.escape(str(value).casefold())
    # A word stands for itself: the 2 of 112.2 is not specimen 2.
    return bool(word) and re.search(rf"(?<![\w.,]){word}(?!\w|[.,]\d)", text.casefold()) is not None


def _near(left: float, right: float) -> bool:
    return abs(left - right) <= 1e-6 * max(abs(left), abs(right), 1e-9)
