"""Workbooks: each sheet a table whose first row is the heading; single cells as header values."""

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

import polars as pl

from plugins.api import Refusing
from plugins.layout.archive import guard
from plugins.layout.model import HEADER, Layout, TablePlan
from plugins.layout.section import near
from plugins.layout.tables import Raw, Source, cell, header_frame, line_of, needed, stack, with_place

if TYPE_CHECKING:
    import fastexcel

_CELL = re.compile(r"([A-Z]{1,3})([1-9]\d{0,6})")


def read(layout: Layout, sources: Sequence[Source]) -> Raw:
    """Turn a batch of workbooks into tables."""
    raw = Raw()
    headers: list[dict[str, object]] = []
    frames: dict[str, list[pl.DataFrame]] = {name: [] for name in layout.tables}
    for source in sources:
        try:
            book = _open(source)
            sheets = {name: _sheet(book, plan, layout, source.index) for name, plan in layout.tables.items()}
            headers.append(_header(book, layout, source.index))
        except Refusing as refusing:
            raw.refused.append(refusing.row(source.export.hash))
            continue
        for name, frame in sheets.items():
            frames[name].append(frame)
    raw.tables[HEADER] = header_frame(headers, layout)
    for name in layout.tables:
        raw.tables[name] = stack(frames[name], needed(layout, name))
        raw.counts[name] = raw.tables[name].group_by("export").agg(pl.len().cast(pl.UInt32).alias("rows"))
    return raw


def _open(source: Source) -> "fastexcel.ExcelReader":
    import fastexcel

    if not source.content:
        raise Refusing("empty", "the file is empty")
    guard(source.content)
    try:
        return fastexcel.read_excel(source.content)
    except Exception as fault:
        raise Refusing("not_well_formed", f"the workbook cannot be opened: {_first_line(fault)}") from fault


def _first_line(fault: Exception) -> str:
    return str(fault).strip().split("\n")[0][:200]


def _load(book: "fastexcel.ExcelReader", sheet: str) -> pl.DataFrame:
    """Return all cells of a sheet as text; row n of the frame is row n + 1 of the sheet."""
    try:
        frame = book.load_sheet(sheet, header_row=None, skip_rows=0, dtypes="string").to_polars()
    except Exception as fault:
        raise Refusing("not_well_formed", f"sheet '{sheet}' cannot be read: {_first_line(fault)}") from fault
    return frame.rename({name: str(position) for position, name in enumerate(frame.columns)})


def _sheet(book: "fastexcel.ExcelReader", plan: TablePlan, layout: Layout, index: int) -> pl.DataFrame:
    wanted = needed(layout, plan.name)
    name = plan.sheet or plan.name
    if name not in book.sheet_names:
        if plan.optional:
            return stack([], wanted)
        raise Refusing("missing_table", f"the workbook has no sheet '{name}'{near(name, tuple(book.sheet_names))}")
    frame = _load(book, name)
    if not frame.height:
        raise Refusing("missing_table", f"sheet '{name}' is empty: it lacks its heading")
    heading = tuple((text or "").strip() for text in frame.row(0))
    columns = {}
    for column, optional in wanted.items():
        found = [position for position, text in enumerate(heading) if text == column]
        if len(found) > 1:
            reason = f"sheet '{name}', row 1: the column '{column}' stands twice"
            raise Refusing("duplicate", reason, column_name=column)
        if not found and not optional:
            reason = f"sheet '{name}', row 1: the heading lacks the column '{column}'{near(column, heading)}"
            raise Refusing("missing_column", reason, column_name=column)
        if found:
            columns[column] = str(found[0])
    rows = frame.with_columns(pl.int_range(1, pl.len() + 1, dtype=pl.Int64).alias("line")).slice(1)
    filled = pl.any_horizontal(pl.exclude("line").str.strip_chars().fill_null("") != "")
    rows = rows.filter(filled).select("line", *(pl.col(at).alias(cell(column)) for column, at in columns.items()))
    return with_place(rows, index, name)


def _header(book: "fastexcel.ExcelReader", layout: Layout, index: int) -> dict[str, object]:
    row: dict[str, object] = {"export": index, "line": 1, "part": None}
    for key, place in layout.header.cells.items():
        sheet, _, spot = place.rpartition("!")
        match = _CELL.fullmatch(spot)
        if match is None or sheet not in book.sheet_names:
            continue
        column = 0
        for letter in match[1]:
            column = column * 26 + ord(letter) - 64
        frame, line = _load(book, sheet), int(match[2])
        if line <= frame.height and column <= frame.width:
            row |= {cell(key): frame.row(line - 1)[column - 1], line_of(key): line}
    return row
