"""Variants of exports that are documents: keys, attributes and columns in another order, or one more of them."""

import io
import json
import re
from collections.abc import Callable, Iterator
from typing import Any

from plugins.contract.hostile import Variant, is_text, text_of

_TAG = re.compile(r"<([A-Za-z_][\w.-]*)((?:\s+[\w:.-]+\s*=\s*(?:\"[^\"]*\"|'[^']*'))+)\s*(/?)>")
_ATTRIBUTE = re.compile(r"[\w:.-]+\s*=\s*(?:\"[^\"]*\"|'[^']*')")

SURPLUS = "zz_surplus"


def moved(content: bytes) -> Iterator[Variant]:
    """Put keys of objects, attributes of elements, or columns of sheets into the reverse order."""
    yield from _changed(
        content, "reversed", lambda items: list(reversed(items)), _reversed_attributes, _reversed_columns
    )


def surplus(content: bytes) -> Iterator[Variant]:
    """Add a key to every object, an attribute to every element that has some, a column to every sheet."""
    yield from _changed(content, "one more", lambda items: [*items, (SURPLUS, 77)], _more_attributes, _more_columns)


def _changed(
    content: bytes,
    title: str,
    keys: Callable[[list[tuple[str, Any]]], list[tuple[str, Any]]],
    attributes: Callable[[str], str],
    columns: Callable[[list[Any], bool], list[Any]],
) -> Iterator[Variant]:
    if content.startswith(b"PK"):
        made = _book(content, columns)
        if made is not None:
            yield Variant(f"columns of the sheets, {title}", made)
    elif is_text(content) and text_of(content).lstrip("\ufeff \r\n\t").startswith("{"):
        try:
            data = json.loads(text_of(content))
        except ValueError:
            return
        yield Variant(f"keys of the objects, {title}", json.dumps(_keys(data, keys), indent=1).encode())
    elif is_text(content) and text_of(content).lstrip("\ufeff \r\n\t").startswith("<"):
        text = _TAG.sub(lambda tag: f"<{tag[1]} {attributes(tag[2])}{tag[3]}>", text_of(content))
        yield Variant(f"attributes of the elements, {title}", text.encode())


def _keys(data: Any, change: Callable[[list[tuple[str, Any]]], list[tuple[str, Any]]]) -> Any:
    if isinstance(data, dict):
        return dict(change([(key, _keys(value, change)) for key, value in data.items()]))
    return [_keys(item, change) for item in data] if isinstance(data, list) else data


def _reversed_attributes(text: str) -> str:
    return " ".join(reversed(_ATTRIBUTE.findall(text)))


def _more_attributes(text: str) -> str:
    return f'{text.strip()} {SURPLUS}="77"'


def _reversed_columns(cells: list[Any], heading: bool) -> list[Any]:
    return cells[::-1]


def _more_columns(cells: list[Any], heading: bool) -> list[Any]:
    return [*cells, SURPLUS if heading else 77]


def _book(content: bytes, change: Callable[[list[Any], bool], list[Any]]) -> bytes | None:
    """Return the workbook with the cells of each row of its tables changed; None where no library can write one.

    A sheet counts as a table where its first row names at least three columns; what is shorter stays as it is.
    """
    try:
        import openpyxl
    except ImportError:
        return None
    book = openpyxl.load_workbook(io.BytesIO(content))
    for sheet in book.worksheets:
        heading = [cell.value for cell in sheet[1]] if sheet.max_row > 1 else []
        if len(heading) < 3 or None in heading:
            continue
        for number, row in enumerate(list(sheet.iter_rows(values_only=True)), start=1):
            if any(cell is not None for cell in row):
                for place, value in enumerate(change(list(row), number == 1), start=1):
                    sheet.cell(number, place).value = value
    made = io.BytesIO()
    book.save(made)
    return made.getvalue()
