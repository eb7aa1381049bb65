"""TOML -> typed, frozen layout; a fault points at the layout's own line."""

import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from plugins.layout.lines import toml_lines
from plugins.layout.section import LayoutError, Section

Kind = Literal["delimited", "slip", "json", "toml", "xml", "workbook"]
Scalar = str | int | float | bool
KINDS: tuple[str, ...] = ("delimited", "slip", "json", "toml", "xml", "workbook")

#: Name under which the values that hold for a whole export are kept; no table may bear it.
HEADER = "header"

#: Header key under which the text after a table's end mark is kept.
END_KEY = "(end)"

_DATETIMES = ("%Y-%m-%dT%H:%M:%S%.f", "%Y-%m-%d %H:%M:%S%.f", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M")
_DATES = ("%Y-%m-%d",)


@dataclass(frozen=True)
class Recognition:
    """What the head of an export must show: every `contains`, the start, one of the suffixes, the sheets."""

    starts: str | None
    contains: tuple[str, ...]
    sheets: tuple[str, ...]


@dataclass(frozen=True)
class Writing:
    """How the export writes text, numbers and dates."""

    encodings: tuple[str, ...]
    decimal: str
    datetimes: tuple[str, ...]
    dates: tuple[str, ...]
    final_newline: bool


@dataclass(frozen=True)
class HeaderPlan:
    """Header lines of a text export (separator, values per line), or cells of a workbook (`Sheet!B2`)."""

    separator: str
    values: int
    cells: dict[str, str]


@dataclass(frozen=True)
class Declared:
    """Where an export says how many rows a table has: a header key, or the end line; plus a constant."""

    header: str
    plus: int


@dataclass(frozen=True)
class TablePlan:
    """One table of the export, in the terms of its kind."""

    name: str
    heading: str | None
    delimiter: str
    end: str | None
    rows: str | None
    elements: str | None
    entries: str | None
    sheet: str | None
    optional: bool
    declared: Declared | None


@dataclass(frozen=True)
class FieldPlan:
    """Where a record's column comes from: a column, a header value, a constant; and how it is converted."""

    target: str
    column: str | None
    header: str | None
    value: int
    constant: Scalar | None
    take: str | None
    table: str | None
    unit: str | None
    unit_from: str | None
    words: str | None
    pattern: str | None
    optional: bool
    required: bool
    line: int


@dataclass(frozen=True)
class RecordPlan:
    """One record made of each row of a table, or of each export where it names no table."""

    record: str
    table: str | None
    present: str | None
    fields: tuple[FieldPlan, ...]
    line: int


@dataclass(frozen=True)
class Layout:
    """A whole layout; `source` names its file in messages."""

    source: str
    name: str
    version: str
    title: str
    kind: Kind
    recognition: Recognition
    writing: Writing
    header: HeaderPlan
    rule: str | None
    tables: dict[str, TablePlan]
    words: dict[str, dict[str, str]]
    records: tuple[RecordPlan, ...]

    @property
    def gives(self) -> tuple[str, ...]:
        """Return the records it gives, each once, in the order of the layout."""
        return tuple(dict.fromkeys(plan.record for plan in self.records))


def load(path: Path) -> Layout:
    """Read a layout file.

    Raises
    ------
    LayoutError
        When it is not TOML, lacks something, or has a key that no layout has.
    """
    return parse(path.read_bytes(), f"{path.parent.name}/{path.name}")


def parse(content: bytes, source: str) -> Layout:
    """Read a layout from its bytes; `source` names it in messages."""
    try:
        text = content.decode("utf-8").replace("\r\n", "\n")
        data = tomllib.loads(text)
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as fault:
        raise LayoutError(source, _fault_line(str(fault)), f"this is not TOML: {fault}") from fault
    return _layout(Section(source, data, toml_lines(text)))


def _fault_line(sentence: str) -> int:
    after = sentence.partition("at line ")[2].partition(",")[0]
    return int(after) if after.isdigit() else 1


def _layout(top: Section) -> Layout:
    common = _fields(top.inner("common"), {})
    layout = Layout(
        source=top.source,
        name=top.need_text("name"),
        version=top.text("version") or "1",
        title=top.text("title") or top.need_text("name"),
        kind=top.choice("kind", KINDS),  # type: ignore[arg-type]
        recognition=_recognition(top),
        writing=_writing(top.inner("file")),
        header=_header(top.inner("header")),
        rule=_rule(top.inner("block")),
        tables=top.named("tables", _table),
        words=_words(top),
        records=tuple(plan for item in top.items("record") for plan in _records(item, common)),
    )
    top.done()
    _check(top, layout)
    return layout


def _recognition(top: Section) -> Recognition:
    section = top.inner("recognise")
    if section is None:
        raise top.fault("the layout lacks [recognise]: without it nothing would ever be read")
    found = Recognition(section.text("starts"), section.texts("contains"), section.texts("sheets"))
    section.done()
    if not (found.starts or found.contains or found.sheets):
        raise section.fault("[recognise] must have 'starts', 'contains' or 'sheets'")
    return found


def _writing(section: Section | None) -> Writing:
    if section is None:
        return Writing(("utf-8",), ".", _DATETIMES, _DATES, False)
    writing = Writing(
        encodings=section.texts("encodings", ("utf-8",)),
        decimal=section.choice("decimal", (".", ","), "."),
        datetimes=section.texts("datetimes", _DATETIMES),
        dates=section.texts("dates", _DATES),
        final_newline=section.flag("final_newline"),
    )
    section.done()
    return writing


def _header(section: Section | None) -> HeaderPlan:
    if section is None:
        return HeaderPlan("=", 1, {})
    cells = section.inner("cells")
    names = {key: cells.need_text(key) for key in cells.data} if cells else {}
    plan = HeaderPlan(section.text("separator", "=") or "=", section.whole("values", 1), names)
    section.done()
    return plan


def _rule(section: Section | None) -> str | None:
    if section is None:
        return None
    rule = section.need_text("rule")
    section.done()
    return rule


def _table(section: Section, name: str) -> TablePlan:
    if name == HEADER:
        raise section.fault(f"no table may be called '{HEADER}'")
    plan = TablePlan(
        name=name,
        heading=section.text("heading"),
        delimiter=section.text("delimiter", ";") or ";",
        end=section.text("end"),
        rows=section.text("rows"),
        elements=section.text("elements"),
        entries=section.text("entries"),
        sheet=section.text("sheet"),
        optional=section.flag("optional"),
        declared=_declared(section.inner("declared")),
    )
    section.done()
    return plan


def _declared(section: Section | None) -> Declared | None:
    if section is None:
        return None
    key = END_KEY if section.flag("end") else section.need_text("header")
    declared = Declared(key, section.whole("plus", 0))
    section.done()
    return declared


def _words(top: Section) -> dict[str, dict[str, str]]:
    def one(section: Section, _: str) -> dict[str, str]:
        return {key.casefold(): section.need_text(key) for key in section.data}

    return top.named("words", one)


def _fields(section: Section | None, marks: dict[str, Scalar]) -> tuple[FieldPlan, ...]:
    if section is None:
        return ()
    fields: list[FieldPlan] = []
    for target in section.data:
        inner = section.inner(target)
        if inner is None:
            continue
        first, last = _span(inner)
        for number in range(first, last + 1):
            fields.append(_field(inner, target, marks | ({"n": number} if last > first else {})))
        inner.done()
    return tuple(fields)


def _span(section: Section) -> tuple[int, int]:
    section.known.add("n")
    span = section.data.get("n", [1, 1])
    if not (isinstance(span, list) and len(span) == 2 and all(isinstance(bound, int) for bound in span)):
        raise section.fault("'n' must be two whole numbers, the first and the last", "n")
    if not 0 <= span[1] - span[0] < 1000:
        raise section.fault("'n' must run upwards over fewer than 1,000 numbers", "n")
    return span[0], span[1]


def _filled(section: Section, text: str | None, marks: dict[str, Scalar]) -> str | None:
    if text is None or not marks:
        return text
    try:
        return text.format_map(marks)
    except (KeyError, ValueError, IndexError, AttributeError) as fault:
        raise section.fault(f"'{text}' uses a mark that is not given: {fault}") from fault


def _pattern(section: Section) -> str | None:
    """Return the pattern whose one group is the part of the cell that counts."""
    text = section.text("pattern")
    if text is None:
        return None
    try:
        groups = re.compile(text).groups
    except re.error as fault:
        raise section.fault(f"'{text}' is not a pattern: {fault}", "pattern") from fault
    if groups != 1:
        raise section.fault(f"'{text}' must have exactly one group in brackets, it has {groups}", "pattern")
    return text


def _field(section: Section, target: str, marks: dict[str, Scalar]) -> FieldPlan:
    value = section.scalar("value")
    number = marks.get(value[1:-1], value) if isinstance(value, str) and value[:1] == "{" else value
    constant = section.scalar("constant")
    filled = _filled(section, constant, marks) if isinstance(constant, str) else constant
    plan = FieldPlan(
        target=_filled(section, target, marks) or target,
        column=_filled(section, section.text("column"), marks),
        header=_filled(section, section.text("header"), marks),
        value=number if isinstance(number, int) else 1,
        constant=filled,
        take=section.text("take"),
        table=section.text("table"),
        unit=section.text("unit"),
        unit_from=_filled(section, section.text("unit_from"), marks),
        words=section.text("words"),
        pattern=_pattern(section),
        optional=section.flag("optional"),
        required=section.flag("required"),
        line=section.fault("").line,
    )
    if sum(source is not None for source in (plan.column, plan.header, plan.constant)) != 1:
        raise section.fault(f"'{target}' must have exactly one of 'column', 'header' and 'constant'")
    if plan.take not in (None, "last"):
        raise section.fault("'take' can only be 'last'", "take")
    return plan


def _records(section: Section, common: tuple[FieldPlan, ...]) -> list[RecordPlan]:
    repeats: list[dict[str, Scalar]] = [dict(item.data) for item in section.items("repeat")] or [{}]
    plans = []
    for marks in repeats:
        own = _fields(section.inner("fields"), marks)
        targets = {plan.target for plan in own}
        plans.append(
            RecordPlan(
                record=section.need_text("record"),
                table=section.text("table"),
                present=_filled(section, section.text("present"), marks),
                fields=(*(plan for plan in common if plan.target not in targets), *own),
                line=section.fault("").line,
            )
        )
    section.known.update({"fields", "repeat"})
    section.done()
    return plans


def _check(top: Section, layout: Layout) -> None:
    if not layout.records:
        raise top.fault("the layout has no [[record]]: it would read nothing")
    if layout.kind == "slip" and not layout.rule:
        raise top.fault("a layout of kind 'slip' needs [block] with 'rule'")
    for record in layout.records:
        tables = {record.table, *(plan.table for plan in record.fields)} - {None}
        for table in tables - {*layout.tables, "block"}:
            sentence = f"the record names the table '{table}', which is not declared"
            raise LayoutError(layout.source, record.line, sentence)
        for plan in record.fields:
            if plan.words and plan.words not in layout.words:
                raise LayoutError(layout.source, plan.line, f"there is no list [words.{plan.words}]")
