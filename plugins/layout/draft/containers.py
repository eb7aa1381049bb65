"""Looks at workbooks, documents (JSON, TOML, XML) and databases: which part is the table, which are header values."""

import json
import sqlite3
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from typing import Any

from plugins.api import Refusing
from plugins.layout import database
from plugins.layout.archive import guard
from plugins.layout.document import plain_text
from plugins.layout.draft import values
from plugins.layout.draft.found import Found, Place
from plugins.layout.lines import LINE_LIMIT
from plugins.layout.model import Kind

#: Rows looked at of each table.
_ROWS = 200


def _places(found: Found, columns: Mapping[str, Sequence[str]]) -> None:
    found.places += [
        Place(name, tuple(texts), header=False, unit=values.unit_of(name)) for name, texts in columns.items()
    ]


def _header(found: Found, header: Mapping[str, str]) -> None:
    found.places += [
        Place(key, (text,), header=True, unit=values.unit_of(key.rpartition(".")[2])) for key, text in header.items()
    ]


def workbook(content: bytes) -> Found:
    """Return what a workbook shows: the sheet with the longest table, labels with a value to their right.

    Raises
    ------
    Refusing
        When it cannot be opened, or expands beyond the limits.
    """
    import fastexcel

    guard(content)
    book = fastexcel.read_excel(content)
    found = Found("workbook")
    sheets = {
        name: [
            [(cell or "").strip() for cell in row]
            for row in book.load_sheet(name, header_row=None, skip_rows=0, dtypes="string").to_polars().rows()
        ]
        for name in book.sheet_names
    }
    best = max(sheets, key=lambda name: _table_of(sheets[name])[1])
    at, rows = _table_of(sheets[best])
    heading = sheets[best][at] if sheets[best] else []
    found.recognise = {"sheets": [best]}
    found.table = {"sheet": best} | ({"heading": next(cell for cell in heading if cell)} if at else {})
    found.note("table", f"sheet '{best}', row {at + 1}", f"the longest table of the workbook: {rows} rows", 0.9)
    body = sheets[best][at + 1 : at + 1 + rows]
    _places(found, {name: [row[n] for row in body[:_ROWS]] for n, name in enumerate(heading) if name})
    cells: dict[str, str] = {}
    for sheet, lines in sheets.items():
        for row, line in enumerate(lines[: at if sheet == best else 40]):
            filled = [n for n, cell in enumerate(line) if cell]
            if len(filled) == 2 and filled[1] == filled[0] + 1 and line[filled[0]] not in cells:
                key = line[filled[0]].rstrip(":").strip()
                cells[key] = f"{sheet}!{chr(ord('A') + filled[1])}{row + 1}"
                found.places.append(Place(key, (line[filled[1]],), header=True, unit=values.unit_of(key)))
    if cells:
        found.header["cells"] = cells
        found.note("header", f"{len(cells)} cells", "a label with one value to its right", 0.8)
    return found


def _table_of(rows: list[list[str]]) -> tuple[int, int]:
    """Return where the heading of a sheet's table stands, and how many rows follow."""
    for at, row in enumerate(rows):
        names = [cell for cell in row if cell]
        if len(names) > 2 and not any(values.looks_numeric(cell) for cell in names):
            body = 0
            while at + 1 + body < len(rows) and any(rows[at + 1 + body]):
                body += 1
            return at, body
    return 0, 0


def document(content: bytes) -> Found | None:
    """Return what a JSON or TOML text shows, or None where it is neither."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return None
    kind, data = _parsed(text)
    if not isinstance(data, dict) or not data:
        return None
    found = Found(kind)
    header: dict[str, str] = {}
    tables: dict[str, list[Any]] = {}
    for path, value in _leaves(data, ""):
        if isinstance(value, list):
            tables[path] = value
        else:
            header[path] = plain_text(value) or ""
    _header(found, header)
    _recognise(found, text, data, header)
    if kind == "toml" and text.endswith("\n"):
        found.writing["final_newline"] = True
        found.note("end of file", "line break", "without one at its end an export was cut off", 0.8)
    if tables:
        path = max(tables, key=lambda one: len(tables[one]))
        _list_table(found, path, tables[path])
    return found


def _parsed(text: str) -> tuple[Kind, object]:
    """Return the kind of a document and what it holds; None where it is neither JSON nor TOML."""
    try:
        data = json.loads(text)
        return "json", {"list": data} if isinstance(data, list) else data
    except (ValueError, RecursionError):
        pass
    if any(len(line) > LINE_LIMIT for line in text.split("\n")):
        return "toml", None
    try:
        return "toml", tomllib.loads(text)
    except (ValueError, RecursionError):
        return "toml", None


def _recognise(found: Found, text: str, data: Mapping[str, Any], header: Mapping[str, str]) -> None:
    """Propose what tells a document from others: its first value where that is a word, else its first keys."""
    path, value = next(iter(header.items()), ("", ""))
    key = path.rpartition(".")[2] if found.kind == "toml" else path
    pairs = [f'"{key}": {json.dumps(value)}'] if found.kind == "json" else [f'{key} = "{value}"', f"{key} = '{value}'"]
    squeezed = "".join(text.split())
    there = [pair for pair in pairs if "".join(pair.split()) in squeezed]
    starts = {"starts": "{"} if found.kind == "json" else {}
    if key and there and not any(character.isdigit() for character in value):
        found.recognise = {**starts, "contains": there[:1]}
        found.note("recognise", there[0], "the first value of the document", 0.7)
        return
    written = {name: (f'"{name}"', f"{name} =", f"[{name}", f"[[{name}") for name in data}
    marks = {
        name: next((mark for mark in forms if "".join(mark.split()) in squeezed), "") for name, forms in written.items()
    }
    found.recognise = {"contains": [mark for mark in marks.values() if mark][:3]}
    found.note("recognise", ", ".join(list(data)[:3]), "the first keys of the document", 0.6)


def _leaves(data: Mapping[str, Any], prefix: str) -> Iterator[tuple[str, Any]]:
    for key, value in data.items():
        if isinstance(value, Mapping):
            yield from _leaves(value, f"{prefix}{key}.")
        elif value is not None and "." not in key:
            yield prefix + key, value


def _list_table(found: Found, path: str, items: list[Any]) -> None:
    if all(isinstance(item, Mapping) for item in items):
        found.table = {"rows": path}
        names = dict.fromkeys(name for item in items[:_ROWS] for name, _ in _leaves(item, ""))
        _places(found, {name: [_text_at(item, name) for item in items[:_ROWS]] for name in names})
    else:
        found.table = {"elements": path}
        texts = [plain_text(item) or "" for item in items[:_ROWS]]
        name = path.rpartition(".")[2]
        found.places.append(Place("index", tuple(str(n) for n in range(len(texts))), header=False))
        found.places.append(Place("value", tuple(texts), header=False, unit=values.unit_of(name), called=name))
    found.note("table", path, f"the longest list of the document: {len(items)} entries", 0.9)


def _text_at(item: Mapping[str, Any], dotted: str) -> str:
    value: Any = item
    for part in dotted.split("."):
        value = value.get(part) if isinstance(value, Mapping) else None
    return plain_text(value) or ""


def markup(content: bytes) -> Found | None:
    """Return what an XML text shows, or None where it is none.

    Raises
    ------
    Refusing
        `entities_refused` for a document type or an entity.
    """
    from defusedxml import DefusedXmlException, ElementTree

    if not content.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<"):
        return None
    try:
        root = ElementTree.fromstring(content, forbid_dtd=True)
    except DefusedXmlException as fault:
        raise Refusing("entities_refused", "the file declares a document type or an entity") from fault
    except ElementTree.ParseError:
        return None
    found = Found("xml", recognise={"contains": [f"<{root.tag}"]})
    found.note("recognise", f"<{root.tag}", "the element around everything", 0.8)
    paths: dict[str, list[Any]] = {}
    _elements(root, "", paths)
    repeated = {path: elements for path, elements in paths.items() if len(elements) > 1}
    if repeated:
        path = max(
            repeated, key=lambda one: (len(repeated[one]) * bool(len(repeated[one][0]) or repeated[one][0].attrib), one)
        )
        found.table = {"rows": path}
        found.note("table", path, f"the element that is repeated most: {len(repeated[path])} times", 0.85)
        _places(found, _columns(repeated[path]))
        around = paths.get(path.rpartition("/")[0], [])
        _places(
            found,
            {f"../@{name}": [one.attrib[name] for one in around] for name in (around[0].attrib if around else ())},
        )
    header = {f"@{name}": text for name, text in root.attrib.items()}
    for path, elements in paths.items():
        if len(elements) == 1 and not any(path.startswith(f"{one}/") or path == one for one in repeated):
            header |= {f"{path}/@{name}": text for name, text in elements[0].attrib.items()}
            if (elements[0].text or "").strip():
                header[path] = elements[0].text.strip()
    _header(found, header)
    return found


def _elements(element: Any, prefix: str, paths: dict[str, list[Any]]) -> None:
    for child in element:
        path = f"{prefix}{child.tag}"
        paths.setdefault(path, []).append(child)
        _elements(child, path + "/", paths)


def _columns(elements: Sequence[Any]) -> dict[str, list[str]]:
    columns: dict[str, list[str]] = {}
    for element in elements[:_ROWS]:
        seen: dict[str, int] = {}
        for name, text in element.attrib.items():
            columns.setdefault(f"@{name}", []).append(text)
        for child in element:
            seen[child.tag] = seen.get(child.tag, 0) + 1
            columns.setdefault(f"{child.tag}.{seen[child.tag]}", []).append((child.text or "").strip())
    alone = {name.rpartition(".")[0] for name in columns if name.endswith(".2")}
    return {
        name.removesuffix(".1") if name.endswith(".1") and name[:-2] not in alone else name: texts
        for name, texts in columns.items()
    }


def tables(content: bytes) -> Found:
    """Return what a database shows: its longest table, and the table of names and values if it has one.

    Raises
    ------
    Refusing
        When it cannot be read.
    """
    found = Found("sqlite")
    try:
        with closing(database.open_copy(content)) as opened:
            whole = {name: database.rows_of(opened, name) for name in database.table_names(opened)}
    except sqlite3.Error as fault:
        raise Refusing("not_well_formed", f"the database cannot be read: {fault}") from fault
    if not whole:
        raise Refusing("missing_table", "the database has no table")
    best = max(whole, key=lambda name: len(whole[name][1]))
    names, rows = whole[best]
    found.recognise = {"tables": list(whole)}
    found.table = {"rows": best}
    found.note("table", best, f"the longest table: {len(rows)} rows", 0.9)
    _places(found, {name: [_cell(row[at]) for row in rows[:_ROWS]] for at, name in enumerate(names)})
    for name, (columns, lines) in whole.items():
        if name != best and len(columns) == 2 and len({line[0] for line in lines}) == len(lines):
            found.header["settings"] = {"table": name, "name": columns[0], "value": columns[1]}
            found.note("header", name, "a table of two columns, each name once", 0.85)
            _header(found, {str(line[0]): _cell(line[1]) for line in lines})
    return found


def _cell(value: object) -> str:
    return (plain_text(value) if not isinstance(value, bytes) else value.decode("utf-8", "replace")) or ""
