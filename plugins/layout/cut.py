"""One text export -> its parts: blocks, header lines, and for each table the heading and the text of its rows."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from plugins.api import Refusing
from plugins.layout.cells import split_heading
from plugins.layout.model import Layout, TablePlan
from plugins.layout.tables import Raw, Source, chosen
from plugins.text import decode

#: Most columns a table may have: every cell of a row becomes a column of a frame.
COLUMN_LIMIT = 1_000

#: A byte that is neither white space nor part of a byte-order mark.
_SOMETHING = re.compile(rb"[^\xef\xbb\xbf\x00 \t\r\n]")
_BLANK_LINE = re.compile(r"(?:^|\n)[ \t]*(?=\n|$)")
_BRACKETED = re.compile(r"^(.*?)\s*[\[(]([^\])]*)[\])]$")


@dataclass(frozen=True)
class Body:
    """The rows of one table as text, its first line and how many there are; its heading, columns used, units."""

    heading: tuple[str, ...]
    units: tuple[str, ...]
    used: dict[int, str]
    text: str
    first: int
    lines: int


@dataclass(frozen=True)
class Parts:
    """One export (or block) cut up: header texts with their first lines, bodies by table, text of the end line."""

    source: Source
    header: tuple[tuple[str, int], ...]
    bodies: dict[str, Body]
    end: str | None
    end_line: int


def text_of(source: Source, layout: Layout) -> str:
    """Return the text of an export with line breaks as `\\n`.

    Raises
    ------
    Refusing
        `empty` or `undecodable`.
    """
    if not _SOMETHING.search(source.content):
        raise Refusing("empty", "the file holds nothing but white space")
    try:
        text = decode(source.content, layout.writing.encodings)
    except UnicodeDecodeError as fault:
        line = source.content.count(b"\n", 0, fault.start) + 1
        tried = ", ".join(layout.writing.encodings)
        reason = f"line {line}: byte {fault.start + 1} does not belong to text in {tried}"
        raise Refusing("undecodable", reason) from fault
    return text.replace("\r\n", "\n").replace("\r", "\n") if "\r" in text else text


def cut_export(source: Source, layout: Layout, raw: Raw, index: int) -> Iterator[Parts]:
    """Yield the parts of an export, block by block where the layout has blocks; a bad block is refused alone.

    Raises
    ------
    Refusing
        What refuses the export as a whole.
    """
    text = text_of(source, layout)
    if layout.writing.final_newline and not text.endswith("\n"):
        raise Refusing("truncated", "the last line has no line break: the file was cut off")
    starts = layout.block.starts
    if starts is None:
        yield _parts(source, text, 1, (), layout)
        return
    at = [match.start() for match in re.finditer(f"^{re.escape(starts)}", text, re.MULTILINE)]
    if not at:
        raise Refusing("missing_table", f"no line starts with '{starts.strip()}', which begins each block")
    before = ((text[: at[0]], 1),) if at[0] else ()
    line, position = 1, 0
    for start, end in zip(at, [*at[1:], len(text)], strict=True):
        line += text.count("\n", position, start)
        position = start
        block = Source(index, source.export, b"", line)
        try:
            yield _parts(block, text[start:end], line, before, layout)
            index += 1
        except Refusing as refusing:
            raw.refused.append(block.refusal(refusing))


def _parts(source: Source, text: str, line: int, before: tuple[tuple[str, int], ...], layout: Layout) -> Parts:
    places = []
    for plan in layout.tables.values():
        at = _place(text, plan)
        if at is not None:
            places.append((at, plan))
        elif not plan.optional:
            heading = (plan.heading or plan.after or "").strip()
            raise Refusing("missing_table", f"no line starts with '{heading}', the heading of the table")
    places.sort(key=lambda place: place[0])
    first = places[0][0] if places else len(text)
    header, bodies = [(text[:first], line)], {}
    end: tuple[str | None, int] = (None, 0)
    ends = [*(place[0] for place in places[1:]), len(text)] if places else []
    for (at, plan), following in zip(places, ends, strict=True):
        begins = line + text.count("\n", 0, at)
        bodies[plan.name], closing, rest = _table(text, at, following, begins, plan, layout)
        end = closing if closing[0] is not None else end
        if rest is not None:
            header.append(rest)
    # What a block says of itself comes before what holds for all: the first place found counts.
    return Parts(source, (*header, *before), bodies, *end)


def _place(text: str, plan: TablePlan) -> int | None:
    """Return where the table begins: at its heading, at the line its rows follow, or at the top."""
    start = plan.heading if plan.heading is not None else plan.after
    if start is None:
        return 0
    if text.startswith(start):
        return 0
    at = text.find("\n" + start)
    return None if at < 0 else at + 1


def _table(
    text: str, at: int, following: int, line: int, plan: TablePlan, layout: Layout
) -> tuple[Body, tuple[str | None, int], tuple[str, int] | None]:
    """Return the table that stands from `at` to `following`, the text and line of its end, and what comes after it.

    A table may be long, so its rows are copied out of the text once, at the very end.
    """
    lead = plan.heading_lines + (plan.units == "below") if plan.heading is not None else int(plan.after is not None)
    lines, start = _lead(text, at, following, lead)
    names, units = _heading(lines, plan, layout)
    if len(names) > COLUMN_LIMIT:
        raise Refusing("not_well_formed", f"line {line}: the heading has {len(names):,} columns")
    used = chosen(layout, plan, names, f"line {line}")
    first, stop = line + lead, following
    rest: tuple[str, int] | None = None
    closing: tuple[str | None, int] = (None, 0)
    breaks: int | None = None
    if plan.end is not None:
        stop = _closes(text, start, following, plan.end)
        breaks = text.count("\n", start, stop)
        end_line = first + breaks
        after, _, remains = text[stop + len(plan.end) : following].partition("\n")
        if remains.strip() and following == len(text):
            raise Refusing("not_well_formed", f"line {end_line + 1}: something follows the closing line")
        closing, rest = (after.strip(plan.delimiter + " \t"), end_line), (remains, end_line + 1)
    elif plan.until_blank and (blank := _BLANK_LINE.search(text[start:following])):
        after_blank = start + blank.end()
        rest = (text[after_blank:following], first + text.count("\n", start, after_blank))
        stop = start + blank.start()
    body = text[start:stop]
    breaks = body.count("\n") if breaks is None else breaks
    unbroken = bool(body) and not body.endswith("\n")
    return Body(names, units, used, body, first, breaks + unbroken), closing, rest


def _lead(text: str, at: int, following: int, count: int) -> tuple[list[str], int]:
    """Return the first lines of a table, and where its rows begin."""
    lines: list[str] = []
    for _ in range(count):
        end = text.find("\n", at, following)
        lines.append(text[at : end if end >= 0 else following])
        if end < 0:
            return lines, following
        at = end + 1
    return lines, at


def _closes(text: str, start: int, following: int, end: str) -> int:
    """Return where the closing line of a table begins: the last that starts so."""
    if text.startswith(end, start, following):
        return start
    at = text.rfind("\n" + end, start, following)
    if at < 0:
        raise Refusing("truncated", f"the closing line '{end.strip()}' is missing")
    return at + 1


def _heading(lines: list[str], plan: TablePlan, layout: Layout) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the names of the columns and their units."""
    if plan.places or plan.heading is None:
        return plan.names or tuple(plan.places), ()
    split = [split_heading(line, plan.delimiter, layout.writing.quote) for line in lines]
    names = join_headings(split[: plan.heading_lines])
    return named_units(names, plan, split[plan.heading_lines :])


def join_headings(lines: list[tuple[str, ...]]) -> tuple[str, ...]:
    """Join the lines of a heading: above the last line an empty cell takes what stands to its left (merged cells)."""
    width = max((len(line) for line in lines), default=0)
    filled: list[list[str]] = []
    for number, line in enumerate(lines):
        cells: list[str] = []
        for at in range(width):
            text = line[at] if at < len(line) else ""
            cells.append(text or (cells[-1] if cells and number < len(lines) - 1 else ""))
        filled.append(cells)
    return tuple(" ".join(part for part in column if part) for column in zip(*filled, strict=True))


def named_units(
    names: tuple[str, ...], plan: TablePlan, below: list[tuple[str, ...]]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return names without their units, and the units, as the table's `units` says."""
    if plan.units == "below" and below:
        return names, tuple(unit.strip("[]() ") for unit in below[0])
    if plan.units == "bracketed":
        found = [_BRACKETED.match(name) for name in names]
        bare = tuple(match[1] if match else name for match, name in zip(found, names, strict=True))
        return bare, tuple(match[2] if match else "" for match in found)
    return names, ()
