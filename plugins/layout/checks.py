"""What a layout must keep beyond the types of its keys: patterns, encodings, what goes together."""

import codecs
import re
from zoneinfo import ZoneInfo

from plugins.layout.model import BLOCK, HEADER, LINES, FieldPlan, Layout, TablePlan
from plugins.layout.section import LayoutError, Section, near

_SOURCES = "'column', 'header', 'constant' and 'file_name'"


def field(section: Section, plan: FieldPlan) -> None:
    """Refuse a field with none or several sources, or with a pattern that cannot be used."""
    given = sum(source is not None for source in (plan.column, plan.header, plan.constant, plan.file_name))
    if given != 1:
        raise section.fault(f"'{plan.target}' must have exactly one of {_SOURCES}")
    pattern(section, "pattern", plan.pattern, groups=1)
    pattern(section, "file_name", plan.file_name, groups=1)
    if plan.unit_inside and plan.unit_from:
        raise section.fault("'unit_inside' and 'unit_from' exclude each other; take one out", "unit_inside")


def pattern(section: Section, name: str, text: str | None, groups: int | None = None) -> None:
    """Refuse a text that is no pattern, or one that does not have its number of groups."""
    if text is None:
        return
    try:
        found = re.compile(text).groups
    except re.error as fault:
        raise section.fault(f"'{text}' is not a pattern: {fault}", name) from fault
    if groups is not None and found != groups:
        wanted = "exactly one group in brackets" if groups == 1 else f"{groups} groups"
        raise section.fault(f"'{text}' must have {wanted}, it has {found}", name)


def check(top: Section, layout: Layout) -> None:
    """Refuse a layout whose parts do not go together.

    Raises
    ------
    LayoutError
        At the line of the part that is wrong.
    """
    _recognition(top, layout)
    _writing(top, layout)
    if not layout.records:
        raise top.fault("the layout has no [[record]]: it would read nothing")
    if layout.kind == "slip" and not layout.block.rule:
        raise top.fault("a layout of kind 'slip' needs [block] with 'rule'")
    if layout.kind in LINES and not layout.tables and not layout.header.patterns and layout.kind == "fixed":
        raise top.fault("a layout of kind 'fixed' needs a table with 'places', or [header.patterns]")
    for name, text in layout.header.patterns.items():
        pattern(_at(top, "header", "patterns"), name, text, groups=1)
    if layout.block.sheets is not None:
        pattern(_at(top, "block"), "sheets", layout.block.sheets)
    for table in layout.tables.values():
        _table(_at(top, "tables", table.name), layout, table)
    for record in layout.records:
        _record(layout, record.line, record.table, record.fields)


def _at(top: Section, *path: str) -> Section:
    return Section(top.source, {}, top.lines, path)


def _recognition(top: Section, layout: Layout) -> None:
    wanted = layout.recognition
    section = _at(top, "recognise")
    pattern(section, "file_name", wanted.file_name)
    if not (wanted.starts or wanted.contains or wanted.sheets or wanted.tables):
        raise section.fault("[recognise] must have 'starts', 'contains', 'sheets' or 'tables'")


def _writing(top: Section, layout: Layout) -> None:
    section, writing = _at(top, "file"), layout.writing
    for name in writing.encodings:
        try:
            known = codecs.lookup(name)
            known.decode(b"")
        except (LookupError, TypeError, ValueError) as fault:
            raise section.fault(
                f"there is no encoding '{name}'; such as utf-8, cp1252, utf-16-le", "encodings"
            ) from fault
    if writing.thousands == writing.decimal:
        raise section.fault(f"'{writing.decimal}' cannot be both decimal and thousands mark", "thousands")
    clock = layout.writing.clock
    for name, zone in (("written", clock.written), ("laboratory", clock.laboratory)) if clock else ():
        try:
            ZoneInfo(zone)
        except Exception as fault:
            sentence = f"there is no time zone '{zone}'; such as UTC or Europe/Berlin"
            raise _at(top, "file", "clock").fault(sentence, name) from fault


def _table(section: Section, layout: Layout, table: TablePlan) -> None:
    if table.name == HEADER:
        raise section.fault(f"no table may be called '{HEADER}'")
    if table.gather is not None:
        pattern(section, "gather", table.gather.columns, groups=1)
    if table.declared is not None and not table.declared.end and table.declared.header is None:
        raise section.fault("'declared' lacks 'header'; name the header key with the number of rows, or set end = true")
    quoted = layout.writing.quote is not None
    if quoted and len(table.delimiter) != 1:
        raise section.fault("with [file] 'quote' the delimiter must be one character", "delimiter")
    if layout.kind not in LINES:
        return
    if layout.kind == "fixed" and not table.places:
        raise section.fault("a table of kind 'fixed' needs 'places': each column with its first and last character")
    if table.heading is None and not table.names and not table.places:
        raise section.fault("the table needs 'heading', or 'names' for a table without one")
    if table.heading is None and table.units:
        raise section.fault("'units' stand in a heading, and the table has none; state 'unit' per field", "units")


def _record(layout: Layout, line: int, table: str | None, fields: tuple[FieldPlan, ...]) -> None:
    tables = {table, *(plan.table for plan in fields)} - {None}
    known = {*layout.tables, *({BLOCK} if layout.kind == "slip" else ())}
    for name in sorted(str(one) for one in tables - known):
        sentence = f"the record names the table '{name}', which is not declared{near(name, tuple(known))}"
        raise LayoutError(layout.source, line, sentence)
    for plan in fields:
        if plan.words and plan.words not in layout.words:
            hint = near(plan.words, tuple(layout.words))
            raise LayoutError(layout.source, plan.line, f"there is no list [words.{plan.words}]{hint}")
        if plan.column is not None and table is None and plan.table is None:
            sentence = (
                f"'{plan.target}' names a column, but its record has no 'table'; state the table, or use 'header'"
            )
            raise LayoutError(layout.source, plan.line, sentence)
