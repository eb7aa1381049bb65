"""XML exports: attributes and texts by path, element by element, with lines; document types are refused."""

from collections.abc import Sequence
from typing import Any

# defusedxml hands out no line numbers; as it does, every document type and entity is refused here.
from xml.parsers import expat

import polars as pl

from plugins.api import Refusing
from plugins.layout.cut import text_of
from plugins.layout.model import HEADER, Layout
from plugins.layout.tables import Raw, Source, cell, header_frame, header_needed, line_of, needed, stack

_DEPTH_LIMIT = 64

#: Faults of the parser that mean that the text ended too early.
_CUT_OFF = frozenset(
    expat.errors.codes[message]
    for message in (
        expat.errors.XML_ERROR_NO_ELEMENTS,
        expat.errors.XML_ERROR_UNCLOSED_TOKEN,
        expat.errors.XML_ERROR_PARTIAL_CHAR,
        expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION,
    )
)


class _Walker:
    """Collects the cells the layout asks for while the parser walks through one export.

    Paths leave the root element out: `@machine` is its attribute, `sample/@id` one of a child, `d.3` the text of
    the third `d` of a row. Inside a row a path counts from the row; `../@side` looks at the element around it.
    """

    def __init__(self, layout: Layout) -> None:
        self.header: dict[str, tuple[str, int]] = {}
        self.rows: dict[str, list[dict[str, Any]]] = {name: [] for name in layout.tables}
        self._wanted = set(header_needed(layout))
        self._tables = {plan.rows or "": name for name, plan in layout.tables.items()}
        self._columns = {name: set(needed(layout, name)) for name in layout.tables}
        self._stack: list[str] = []
        self._attributes: list[dict[str, str]] = []
        self._open: list[tuple[int, str, dict[str, Any], dict[str, int]]] = []
        self._text: list[str] = []
        self.parser = expat.ParserCreate()
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._text.append
        self.parser.StartDoctypeDeclHandler = self._refuse
        self.parser.EntityDeclHandler = self._refuse
        self.parser.ExternalEntityRefHandler = self._refuse

    def _refuse(self, *_: object) -> int:
        line = self.parser.CurrentLineNumber
        raise Refusing("entities_refused", f"line {line}: the file declares a document type or an entity")

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        depth = len(self._stack)
        if depth >= _DEPTH_LIMIT:
            raise Refusing("not_well_formed", f"line {self.parser.CurrentLineNumber}: it is nested too deeply")
        self._stack.append(name)
        self._attributes.append(attributes)
        self._text.clear()
        path = "/".join(self._stack[1:])
        for attribute, value in attributes.items():
            self._note(f"{path}/@{attribute}" if path else f"@{attribute}", value)
            for level, inside, row, _ in self._open:
                key = "/".join((*self._stack[level:], "@" + attribute))
                if key in self._columns[inside]:
                    row[cell(key)] = value
        table = self._tables.get(path) if depth else None
        if table is not None:
            self._open.append((depth + 1, table, self._row(table, attributes), {}))

    def _note(self, key: str, value: str) -> None:
        if key in self._wanted:
            line = self.parser.CurrentLineNumber
            if key in self.header:
                raise Refusing("duplicate", f"line {line}: '{key}' is given twice")
            self.header[key] = (value, line)

    def _row(self, table: str, attributes: dict[str, str]) -> dict[str, Any]:
        row: dict[str, Any] = {"line": self.parser.CurrentLineNumber}
        around = self._attributes[-2] if len(self._attributes) > 1 else {}
        for prefix, values in (("@", attributes), ("../@", around)):
            row |= {cell(prefix + key): value for key, value in values.items() if prefix + key in self._columns[table]}
        return row

    def _end(self, name: str) -> None:
        text = "".join(self._text).strip()
        self._text.clear()
        depth = len(self._stack)
        if self._open and self._open[-1][0] == depth:
            _, table, row, _ = self._open.pop()
            self.rows[table].append(row)
        elif self._open and self._open[-1][0] == depth - 1:
            # An element without text is counted too: what follows must not slip into its place.
            _, table, row, seen = self._open[-1]
            seen[name] = seen.get(name, 0) + 1
            for key in (f"{name}.{seen[name]}", name):
                if key in self._columns[table] and text:
                    row.setdefault(cell(key), text)
        if text:
            self._note("/".join(self._stack[1:]), text)
        self._stack.pop()
        self._attributes.pop()


def read(layout: Layout, sources: Sequence[Source]) -> Raw:
    """Turn a batch of XML exports into tables."""
    raw = Raw()
    headers: list[dict[str, object]] = []
    frames: dict[str, list[pl.DataFrame]] = {name: [] for name in layout.tables}
    for source in sources:
        try:
            walker = _walk(layout, source)
        except Refusing as refusing:
            raw.refused.append(refusing.row(source.export.hash))
            continue
        row: dict[str, object] = {"export": source.index, "line": 1, "part": None}
        for key, (value, line) in walker.header.items():
            row |= {cell(key): value, line_of(key): line}
        headers.append(row)
        for name, rows in walker.rows.items():
            frames[name].append(_frame(rows, needed(layout, name), source.index))
    raw.tables[HEADER] = header_frame(headers, layout)
    for name in layout.tables:
        raw.tables[name] = stack(frames[name], needed(layout, name))
        raw.counts[name] = raw.tables[name].group_by("export").agg(pl.len().cast(pl.UInt32).alias("rows"))
    return raw


def _walk(layout: Layout, source: Source) -> _Walker:
    if not source.content.strip():
        raise Refusing("empty", "the file holds nothing but white space")
    walker = _Walker(layout)
    try:
        walker.parser.Parse(source.content, True)
    except expat.ExpatError as fault:
        text_of(source, layout)  # a text that cannot be decoded is refused as that
        code = "truncated" if fault.code in _CUT_OFF else "not_well_formed"
        reason = f"line {fault.lineno}: {expat.ErrorString(fault.code)}"
        raise Refusing(code, reason) from fault
    except (LookupError, ValueError) as fault:
        raise Refusing("undecodable", f"the encoding the file declares cannot be read: {fault}") from fault
    return walker


def _frame(rows: list[dict[str, Any]], wanted: dict[str, bool], index: int) -> pl.DataFrame:
    columns: dict[str, pl.Series] = {
        cell(name): pl.Series([row.get(cell(name)) for row in rows], dtype=pl.String) for name in wanted
    }
    columns["line"] = pl.Series([row["line"] for row in rows], dtype=pl.Int64)
    columns["export"] = pl.Series([index] * len(rows), dtype=pl.UInt32)
    columns["part"] = pl.Series([None] * len(rows), dtype=pl.String)
    return pl.DataFrame(columns)
