"""JSON and TOML exports: values by path, lists and mappings as tables, with the line or element of each value."""

import json
import math
import tomllib
from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

import polars as pl

from plugins.api import Refusing
from plugins.layout.delimited import text_of
from plugins.layout.lines import LINE_LIMIT, Path, json_line, json_lines, nearest_line, toml_lines
from plugins.layout.model import HEADER, Layout, TablePlan
from plugins.layout.tables import Raw, Source, cell, header_frame, header_needed, line_of, needed, stack

T = TypeVar("T")
Locate = Callable[[Path], int]

#: Cells of a table made of a list of plain values: its position (from 0) and the value.
INDEX, VALUE, KEY = "index", "value", "key"


def read(layout: Layout, sources: Sequence[Source]) -> Raw:
    """Turn a batch of JSON or TOML exports into tables."""
    raw = Raw()
    headers: list[dict[str, object]] = []
    frames: dict[str, list[pl.DataFrame]] = {name: [] for name in layout.tables}
    counts: dict[str, list[tuple[int, int]]] = {name: [] for name in layout.tables}
    for source in sources:
        try:
            data, locate = _open(layout, source)
            tables = {name: _table(plan, data, locate, layout, source) for name, plan in layout.tables.items()}
        except Refusing as refusing:
            raw.refused.append(refusing.row(source.export.hash))
            continue
        headers.append(_header(layout, data, locate, source.index))
        for name, frame in tables.items():
            frames[name].append(frame)
            counts[name].append((source.index, frame.height))
    raw.tables[HEADER] = header_frame(headers, layout)
    for name in layout.tables:
        raw.tables[name] = stack(frames[name], needed(layout, name))
        raw.counts[name] = pl.DataFrame(counts[name], schema={"export": pl.UInt32(), "rows": pl.UInt32()}, orient="row")
    return raw


def _open(layout: Layout, source: Source) -> tuple[Mapping[str, Any], Locate]:
    text = text_of(source, layout)
    try:
        if layout.kind == "toml":
            _refuse_long_lines(text)
            lines = toml_lines(text)
            return tomllib.loads(text), lambda path: nearest_line(lines, path)
        data = json.loads(text, parse_constant=_no_constant, object_pairs_hook=_once)
    except RecursionError as fault:
        raise Refusing("not_well_formed", "it is nested too deeply") from fault
    except ValueError as fault:
        cut_off = isinstance(fault, json.JSONDecodeError) and not text[fault.pos :].strip()
        code = "truncated" if cut_off or "Unterminated string" in str(fault) else "not_well_formed"
        raise Refusing(code, f"this is not {layout.kind.upper()}: {fault}") from fault
    if not isinstance(data, dict):
        raise Refusing("not_well_formed", f"the document must be an object, not {type(data).__name__}")
    keys = json_lines(text)
    return data, lambda path: json_line(keys, path)


def _refuse_long_lines(text: str) -> None:
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LINE_LIMIT:
            raise Refusing(
                "not_well_formed", f"line {number} has {len(line):,} characters, the limit is {LINE_LIMIT:,}"
            )


def _no_constant(word: str) -> float:
    raise ValueError(f"'{word}' is not a number")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [key for key, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise Refusing("duplicate", f"'{twice}' is given twice in one object", column_name=twice)
    return found


def _at(data: object, dotted: str) -> tuple[object, Path]:
    """Return the value at a dotted path, or None, and the path as keys."""
    path = tuple(dotted.split("."))
    for part in path:
        if not isinstance(data, Mapping):
            return None, path
        data = data.get(part)
    return data, path


def _text(value: object) -> str | None:
    """Return a plain value as the text the conversion of fields reads; a list becomes words with blanks between."""
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    if isinstance(value, list):
        return " ".join(_text(item) or "" for item in value) or None
    if isinstance(value, Mapping):
        return json.dumps(value, default=str)
    return str(value)


def _header(layout: Layout, data: Mapping[str, Any], locate: Locate, index: int) -> dict[str, object]:
    row: dict[str, object] = {"export": index, "line": 1, "part": None}
    for key in header_needed(layout):
        value, path = _at(data, key)
        row[cell(key)] = _text(value)
        row[line_of(key)] = locate(path)
    return row


def _table(plan: TablePlan, data: Mapping[str, Any], locate: Locate, layout: Layout, source: Source) -> pl.DataFrame:
    dotted = plan.rows or plan.elements or plan.entries or ""
    found, path = _at(data, dotted)
    if found is None:
        if plan.optional:
            return stack([], needed(layout, plan.name))
        raise Refusing("missing_table", f"there is no '{dotted}'")
    if plan.entries:
        mapping: dict[str, Any] = _checked(found, dict, "a table", dotted, locate(path))
        rows: list[Mapping[str, Any]] = [{KEY: key, VALUE: value} for key, value in mapping.items()]
        return _rows(rows, [locate((*path, key)) for key in mapping], needed(layout, plan.name), source.index)
    items: list[Any] = _checked(found, list, "a list", dotted, locate(path))
    if plan.elements:
        return _elements(items, dotted, source.index)
    rows = [_checked(item, dict, "a list of tables", dotted, locate(path)) for item in items]
    lines = [locate((*path, position)) for position in range(len(rows))]
    return _rows(rows, lines, needed(layout, plan.name), source.index)


def _checked(found: object, kind: type[T], words: str, dotted: str, line: int) -> T:
    if not isinstance(found, kind):
        raise Refusing("not_well_formed", f"line {line}: '{dotted}' must be {words}")
    return found


def _elements(found: Sequence[Any], part: str, index: int) -> pl.DataFrame:
    values = pl.Series(cell(VALUE), [_text(value) for value in found], dtype=pl.String)
    frame = values.to_frame().with_columns(
        pl.int_range(0, pl.len()).cast(pl.String).alias(cell(INDEX)),
        pl.int_range(1, pl.len() + 1, dtype=pl.Int64).alias("line"),
    )
    return frame.with_columns(pl.lit(index, pl.UInt32).alias("export"), pl.lit(part).alias("part"))


def _rows(rows: Sequence[Mapping[str, Any]], lines: list[int], wanted: dict[str, bool], index: int) -> pl.DataFrame:
    columns = {cell(name): pl.Series([_text(_at(row, name)[0]) for row in rows], dtype=pl.String) for name in wanted}
    place = {
        "export": pl.Series([index] * len(rows), dtype=pl.UInt32),
        "line": pl.Series(lines, dtype=pl.Int64),
        "part": pl.Series([None] * len(rows), dtype=pl.String),
    }
    return pl.DataFrame({**place, **columns})
