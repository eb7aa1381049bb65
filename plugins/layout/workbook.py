"""Workbooks: tables with their heading on each sheet; single cells as header values; sheets as blocks."""

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

import polars as pl

from plugins.api import Refusing
from plugins.layout.archive import guard
from plugins.layout.cut import join_headings, named_units
from plugins.layout.model import HEADER, Layout, TablePlan
from plugins.layout.section import near
from plugins.layout.tables import (
    Raw,
    Source,
    cell,
    chosen,
    gather,
    header_frame,
    line_of,
    needed,
    stack,
    unit_of,
    with_place,
)

if TYPE_CHECKING:
    pass

_CELL = re.compile(r"([A-Z]{1,3})([1-9]\d{0,6})")


class _Book:
    """An open workbook; each sheet is loaded once."""

    def __init__(self, source: Source) -> None:
        import fastexcel

        if not source.content:
            raise Refusing("empty", "the file is empty")
        guard(source.content)
        try:
            self._book: fastexcel.ExcelReader = fastexcel.read_excel(source.content)
        except Exception as fault:
            raise Refusing("not_well_formed", f"the workbook cannot be opened: {_first_line(fault)}") from fault
        self.names = tuple(self._book.sheet_names)
        self._loaded: dict[str, pl.DataFrame] = {}

    def sheet(self, name: str) -> pl.DataFrame:
        """Return all cells of a sheet as text; row n of the frame is row n + 1 of the sheet."""
        if name not in self._loaded:
            try:
                frame = self._book.load_sheet(name, header_row=None, skip_rows=0, dtypes="string").to_polars()
            except Exception as fault:
                raise Refusing("not_well_formed", f"sheet '{name}' cannot be read: {_first_line(fault)}") from fault
            self._loaded[name] = frame.rename({old: str(position) for position, old in enumerate(frame.columns)})
        return self._loaded[name]


def _first_line(fault: Exception) -> str:
    return str(fault).strip().split("\n")[0][:200]


def read(layout: Layout, sources: Sequence[Source]) -> Raw:
    """Turn a batch of workbooks into tables."""
    raw = Raw(blocks=[] if layout.blocks else None)
    headers: list[dict[str, object]] = []
    frames: dict[str, list[pl.DataFrame]] = {name: [] for name in layout.tables}
    for source in sources:
        try:
            book = _Book(source)
            parts = _blocks(book, layout, source, raw)
            made = [
                ({name: _table(book, plan, layout, part, sheet) for name, plan in layout.tables.items()}, part, sheet)
                for part, sheet in parts
            ]
        except Refusing as refusing:
            raw.refused.append(refusing.row(source.export.hash))
            continue
        for tables, part, sheet in made:
            headers.append(_header(book, layout, part.index, sheet))
            for name, frame in tables.items():
                frames[name].append(frame)
            if raw.blocks is not None:
                raw.blocks.append(part)
    raw.tables[HEADER] = header_frame(headers, layout)
    for name in layout.tables:
        raw.tables[name] = stack(frames[name], needed(layout, name))
        raw.counts[name] = raw.tables[name].group_by("export").agg(pl.len().cast(pl.UInt32).alias("rows"))
    return raw


def _blocks(book: _Book, layout: Layout, source: Source, raw: Raw) -> list[tuple[Source, str | None]]:
    """Return the blocks of a workbook, each with its sheet; a workbook without blocks is one."""
    if raw.blocks is None or layout.block.sheets is None:
        return [(source, None)]
    found = [name for name in book.names if re.search(layout.block.sheets, name)]
    if not found:
        has = ", ".join(book.names)[:200]
        raise Refusing("missing_table", f"no sheet of the workbook is like '{layout.block.sheets}'; it has {has}")
    first = len(raw.blocks)
    return [(Source(first + at, source.export, b"", 1), sheet) for at, sheet in enumerate(found)]


def _table(book: _Book, plan: TablePlan, layout: Layout, source: Source, block: str | None) -> pl.DataFrame:
    wanted = needed(layout, plan.name)
    name = plan.sheet or block or plan.name
    if name not in book.names:
        if plan.optional:
            return stack([], wanted)
        raise Refusing("missing_table", f"the workbook has no sheet '{name}'{near(name, book.names)}")
    frame = book.sheet(name)
    at = _heading_row(frame, plan)
    if at is None:
        if plan.optional and frame.height:
            return stack([], wanted)
        lacks = "its heading" if plan.heading is None else f"the heading that begins with '{plan.heading}'"
        raise Refusing(
            "missing_table",
            f"sheet '{name}' is empty: it lacks {lacks}" if not frame.height else f"sheet '{name}' lacks {lacks}",
        )
    lead = plan.heading_lines + (plan.units == "below")
    lines = [tuple((text or "").strip() for text in row) for row in frame.slice(at, lead).rows()]
    names, units = named_units(join_headings(lines[: plan.heading_lines]), plan, lines[plan.heading_lines :])
    used = chosen(layout, plan, names, f"sheet '{name}', row {at + 1}")
    numbered = frame.with_columns(pl.int_range(1, pl.len() + 1, dtype=pl.Int64).alias("line"))
    rows = _rows(numbered.slice(at + lead), plan)
    cells = rows.select("line", *(pl.col(str(place)).alias(cell(column)) for place, column in used.items()))
    written = [
        pl.lit(units[place]).alias(unit_of(column))
        for place, column in used.items()
        if place < len(units) and units[place]
    ]
    return gather(with_place(cells, source.index, name).with_columns(written), plan)


def _heading_row(frame: pl.DataFrame, plan: TablePlan) -> int | None:
    """Return the place of the heading: the first row, or the first whose first filled cell is the heading's."""
    if plan.heading is None:
        return 0 if frame.height else None
    first = pl.coalesce(pl.col(name).str.strip_chars().replace("", None) for name in frame.columns)
    found = frame.select(first.alias("first")).with_row_index("row").filter(pl.col("first") == plan.heading)
    return int(found["row"][0]) if found.height else None


def _rows(rows: pl.DataFrame, plan: TablePlan) -> pl.DataFrame:
    """Return the filled rows up to the table's end."""
    filled = pl.any_horizontal(pl.exclude("line").str.strip_chars().fill_null("") != "")
    if plan.end is not None:
        ended = pl.col("0").fill_null("").str.starts_with(plan.end)
        rows = rows.filter(~ended.cum_max())
    if plan.until_blank:
        rows = rows.filter(~(~filled).cum_max())
    return rows.filter(filled)


def _header(book: _Book, layout: Layout, index: int, block: str | None) -> dict[str, object]:
    row: dict[str, object] = {"export": index, "line": 1, "part": block}
    for key, place in layout.header.cells.items():
        sheet, _, spot = place.rpartition("!")
        sheet = sheet or block or ""
        match = _CELL.fullmatch(spot)
        if match is None or sheet not in book.names:
            continue
        column = 0
        for letter in match[1]:
            column = column * 26 + ord(letter) - 64
        frame, line = book.sheet(sheet), int(match[2])
        if line <= frame.height and column <= frame.width:
            row |= {cell(key): frame.row(line - 1)[column - 1], line_of(key): line}
    return row
