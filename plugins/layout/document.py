"""JSON and TOML exports: values by path, lists and mappings as tables, with the line or element of each value."""

import json
import math
import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

import polars as pl

from plugins.api import Refusing
from plugins.layout.cut import text_of
from plugins.layout.lines import LINE_LIMIT, JsonPlaces, Path, nearest_line, toml_lines
from plugins.layout.model import HEADER, Layout, TablePlan
from plugins.layout.tables import Raw, Source, cell, gather, header_frame, header_needed, line_of, needed, stack

T = TypeVar("T")
Locate = Callable[[Path], int]

#: Cells of a table made of a list of plain values: its position (from 0) and the value.
INDEX, VALUE, KEY = "index", "value", "key"

#: Key under which the list is found, where a whole document is one.
LIST = "list"


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
    if layout.writing.final_newline and not text.endswith("\n"):
        raise Refusing("truncated", "the last line has no line break: the file was cut off")
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
    paths = (plan.rows or plan.elements or "" for plan in layout.tables.values())
    if isinstance(data, list) and any(path.split(".")[0] == LIST for path in paths):
        data = {LIST: data}
    if not isinstance(data, dict):
        raise Refusing("not_well_formed", f"the document must be an object, not {type(data).__name__}")
    return data, JsonPlaces(text).line


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
    """Return the value at a dotted path, or None, and the path as keys; a number is a place in a list, from 0."""
    path: tuple[str | int, ...] = tuple(int(part) if part.isdigit() else part for part in dotted.split("."))
    for part in path:
        if isinstance(data, Mapping):
            data = data.get(str(part))
        elif isinstance(data, list) and isinstance(part, int):
            data = data[part] if part < len(data) else None
        else:
            return None, path
    return data, path


def _every(data: object, dotted: str) -> list[tuple[object, Path, Mapping[str, Any]]]:
    """Return each value at a path in which `*` is any place of a list, with its own path and the object around it."""
    found: list[tuple[object, Path, Mapping[str, Any]]] = [(data, (), {})]
    for part in dotted.split("."):
        inside: list[tuple[object, Path, Mapping[str, Any]]] = []
        for value, path, around in found:
            if part == "*" and isinstance(value, list):
                inside.extend((item, (*path, at), around) for at, item in enumerate(value))
            elif isinstance(value, Mapping) and value.get(part) is not None:
                inside.append((value[part], (*path, part), value))
        found = inside
    return found


def plain_text(value: object) -> str | None:
    """Return a plain value as the text the conversion of fields reads; a list becomes words with blanks between."""
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    if isinstance(value, list):
        return " ".join(plain_text(item) or "" for item in value) or None
    if isinstance(value, Mapping):
        return json.dumps(value, default=str)
    return str(value)


def _header(layout: Layout, data: Mapping[str, Any], locate: Locate, index: int) -> dict[str, object]:
    row: dict[str, object] = {"export": index, "line": 1, "part": None}
    for key in header_needed(layout):
        value, path = _at(data, key)
        row[cell(key)] = plain_text(value)
        row[line_of(key)] = locate(path)
    return row


def _table(plan: TablePlan, data: Mapping[str, Any], locate: Locate, layout: Layout, source: Source) -> pl.DataFrame:
    dotted = plan.rows or plan.elements or plan.entries or ""
    wanted = needed(layout, plan.name)
    if plan.gather is not None:
        wanted = {name: True for name in wanted if name not in (plan.gather.name, plan.gather.value)}
    places = _every(data, dotted)
    if not places:
        if plan.optional or "*" in dotted:
            return stack([], needed(layout, plan.name))
        raise Refusing("missing_table", f"there is no '{dotted}'")
    if plan.elements:
        return pl.concat([_elements(place, dotted, wanted, locate, source.index) for place in places])
    rows: list[Mapping[str, Any]] = []
    lines: list[int] = []
    for found, path, around in places:
        outside = {f"../{name}": value for name, value in around.items()}
        if plan.entries:
            mapping: dict[str, Any] = _checked(found, dict, "a table", dotted, locate(path))
            rows += [{KEY: name, VALUE: value} | outside for name, value in mapping.items()]
            lines += [locate((*path, name)) for name in mapping]
            continue
        items: list[Any] = _checked(found, list, "a list", dotted, locate(path))
        rows += [_checked(item, dict, "a list of tables", dotted, locate(path)) | outside for item in items]
        lines += [locate((*path, position)) for position in range(len(items))]
    if plan.gather is not None:
        pattern = plan.gather.columns
        wanted |= {name: True for row in rows for name in row if re.search(pattern, name)}
    return gather(_rows(rows, lines, wanted, source.index), plan)


def _checked(found: object, kind: type[T], words: str, dotted: str, line: int) -> T:
    if not isinstance(found, kind):
        raise Refusing("not_well_formed", f"line {line}: '{dotted}' must be {words}")
    return found


def _elements(
    place: tuple[object, Path, Mapping[str, Any]], part: str, wanted: Mapping[str, bool], locate: Locate, index: int
) -> pl.DataFrame:
    value, path, around = place
    found: list[Any] = _checked(value, list, "a list", part, locate(path))
    outside = [
        pl.lit(plain_text(around.get(name[3:])), pl.String).alias(cell(name)) for name in wanted if name[:3] == "../"
    ]
    values = pl.Series(cell(VALUE), [plain_text(item) for item in found], dtype=pl.String)
    frame = values.to_frame().with_columns(
        pl.int_range(0, pl.len()).cast(pl.String).alias(cell(INDEX)),
        pl.int_range(1, pl.len() + 1, dtype=pl.Int64).alias("line"),
        *outside,
    )
    spelt = ".".join(str(one) for one in path)
    return frame.with_columns(pl.lit(index, pl.UInt32).alias("export"), pl.lit(spelt).alias("part"))


def _rows(rows: Sequence[Mapping[str, Any]], lines: list[int], wanted: dict[str, bool], index: int) -> pl.DataFrame:
    columns = {
        cell(name): pl.Series(
            [plain_text(row[name] if name in row else _at(row, name)[0]) for row in rows], dtype=pl.String
        )
        for name in wanted
    }
    place = {
        "export": pl.Series([index] * len(rows), dtype=pl.UInt32),
        "line": pl.Series(lines, dtype=pl.Int64),
        "part": pl.Series([None] * len(rows), dtype=pl.String),
    }
    return pl.DataFrame({**place, **columns})
