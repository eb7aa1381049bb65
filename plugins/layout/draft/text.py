"""Looks at a text export: encoding, header block, tables or slips, delimiter, decimal mark, end of the table."""

import re
from collections import Counter
from dataclasses import dataclass, replace

from plugins.layout.cells import split_heading
from plugins.layout.draft import values
from plugins.layout.draft.found import Found, Note, Place
from plugins.layout.model import BLANKS
from plugins.text import marked_encoding, unmarked_wide

_DELIMITERS = (";", "\t", "|", ",", "  ", BLANKS)
_NAMES = {";": "a semicolon", "\t": "a tab", "|": "a bar", ",": "a comma", "  ": "two blanks", BLANKS: "blanks"}
_SEPARATORS = (":", "=", ";", "\t", "|", ",")
#: Share of numbers from which a line is a row of values.
_ROW = 0.25

_SLIP_LINE = re.compile(r"^\s*(\S(?:.*?\S)?)\s{2,}(\S(?:.*?\S)?)(?:\s{2,}(\S+))?\s*$")
_TYPICAL_CP850 = frozenset(b"\x81\x84\x94\x9a\x8e\x99\xe1\xf8")


@dataclass(frozen=True)
class _Run:
    """Lines of a table: from the first to before the last, with the same number of cells."""

    first: int
    last: int
    delimiter: str
    cells: int

    @property
    def weight(self) -> int:
        return (self.last - self.first) * min(self.cells, 12)


def look(content: bytes) -> Found:
    """Return what a text export shows."""
    encoding, reason, sure = _encoding(content)
    text = content.decode(encoding, "replace").lstrip("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")
    found = _slips(lines) or _tables(lines)
    if encoding not in ("utf-8", "utf-8-sig") and not marked_encoding(content):
        found.writing = {"encodings": [encoding]} | found.writing
    found.notes.insert(0, Note("encoding", encoding, reason, sure))
    first = next((line for line in lines if line.strip()), "")
    start = re.split(r"[:=;|\t]|\s{2,}|\d", first)[0].rstrip()
    if len(start) >= 3:
        found.recognise = {"starts": start}
        found.note("recognise", start, "the words the file starts with, before any value", 0.8)
    else:
        found.recognise = {"contains": [first.strip()[:30] or "?"]}
        found.note("recognise", first.strip()[:30], "the first line; better words may stand further down", 0.5)
    return found


def _encoding(content: bytes) -> tuple[str, str, float]:
    marked = marked_encoding(content)
    if marked:
        return marked, "the file begins with the byte-order mark", 1.0
    wide = unmarked_wide(content)
    if wide:
        return wide, "every other byte is zero", 0.95
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        high = {byte for byte in content if byte >= 0x80}
        old = high <= _TYPICAL_CP850
        name = "cp850" if old else "cp1252"
        return name, f"it is no UTF-8; its {len(high)} other characters are usual in {name}", 0.6
    return "utf-8", "every byte is UTF-8", 1.0


def _split(line: str, delimiter: str) -> tuple[str, ...]:
    return split_heading(line, delimiter, None)


def _runs(lines: list[str], delimiter: str) -> list[_Run]:
    """Return the runs of lines with the same number of cells, two at least."""
    counts = [len(_split(line, delimiter)) if line.strip() else 0 for line in lines]
    runs, first = [], 0
    for at in range(1, len(lines) + 1):
        if at == len(lines) or counts[at] != counts[first]:
            if counts[first] > 1 and at - first > 1:
                runs.append(_Run(first, at, delimiter, counts[first]))
            first = at
    return runs


def _numeric(line: str, delimiter: str) -> float:
    cells = [cell for cell in _split(line, delimiter) if cell]
    return sum(values.looks_numeric(cell) for cell in cells) / len(cells) if cells else 0.0


def _best_run(lines: list[str]) -> _Run | None:
    """Return the run that is most like a table: long, wide, with numbers below a line of names."""
    best: tuple[float, _Run] | None = None
    for rank, delimiter in enumerate(_DELIMITERS):
        for run in _runs(lines, delimiter):
            body = [_numeric(line, delimiter) for line in lines[run.first + 1 : min(run.last, run.first + 30)]]
            numbers = sum(body) / len(body) if body else 0.0
            heading = 1.0 - _numeric(lines[run.first], delimiter)
            score = (
                run.weight * (0.2 + numbers) * (0.5 + heading) * (1 - 0.05 * rank) * (0.5 if delimiter == BLANKS else 1)
            )
            if best is None or score > best[0]:
                best = score, run
    return best[1] if best else None


def _tables(lines: list[str]) -> Found:
    found = Found("delimited")
    run = _best_run(lines)
    if run is None:
        found.note("table", "none", "no two lines have the same number of cells", 0.3)
        found.table = None
        _header(found, lines)
        return found
    if run.delimiter == BLANKS and _numeric(lines[run.first], BLANKS) > 0.5:
        return _fixed(found, lines, run)
    heading_at, units, last = _heading_at(lines, run)
    run = replace(run, first=heading_at, last=last)
    heading = lines[heading_at]
    names = _split(heading, run.delimiter)
    body = [line for line in lines[heading_at + 1 + bool(units) : run.last]]
    start = _heading_start(heading, run.delimiter, lines[:heading_at])
    found.table = {"heading": start, "delimiter": run.delimiter}
    found.note(
        "delimiter",
        repr(run.delimiter),
        f"{run.last - run.first} lines have {run.cells} cells parted by {_NAMES[run.delimiter]}",
        0.95,
    )
    found.note(
        "table",
        f"line {heading_at + 1}",
        f"the line of names above {len(body)} lines of values: {heading.strip()[:60]}",
        0.9,
    )
    if units:
        found.table["units"] = "below"
        found.note("units", ", ".join(unit for unit in units if unit), "a line of units below the names", 0.9)
    again = [at for at, line in enumerate(lines) if line == heading]
    if len(again) > 1:
        _blocks(found, lines, again, run)
    else:
        _end(found, lines, run, len(body))
    rows = [_split(line, run.delimiter) for line in body]
    for at, name in enumerate(names):
        texts = tuple(row[at] for row in rows[:200] if at < len(row))
        unit = values.UNITS.get(units[at].strip("[]() ").lower()) if units and at < len(units) else None
        found.places.append(Place(name, texts, header=False, unit=unit or values.unit_of(name)))
    _decimal(found)
    _header(found, lines[:heading_at])
    return found


def _fixed(found: Found, lines: list[str], run: _Run) -> Found:
    """Describe a table whose columns stand at fixed places: where all its lines are blank lies the gap."""
    found.kind = "fixed"
    body = lines[run.first : run.last]
    width = max(len(line) for line in body)
    filled = [any(at < len(line) and line[at] != " " for line in body) for at in range(width)]
    ends = [at for at in range(width) if filled[at] and (at + 1 == width or not filled[at + 1])]
    spans = list(zip([1, *(end + 2 for end in ends[:-1])], [end + 1 for end in ends], strict=True))
    above = next((at for at in range(run.first - 1, -1, -1) if lines[at].strip()), None)
    names = re.split(r"\s{2,}", lines[above].strip()) if above is not None else []
    if len(names) != len(spans) and above is not None:
        names = lines[above].split()
    if len(names) != len(spans) or len(set(names)) != len(names):
        names = [f"column {at}" for at in range(1, len(spans) + 1)]
    found.table = {"places": {name: list(span) for name, span in zip(names, spans, strict=True)}}
    if above is not None:
        found.table = {"heading": lines[above].rstrip()} | found.table
    found.note("table", f"line {run.first + 1}", f"{len(body)} lines of numbers at fixed places", 0.7)
    _end(found, lines, run, len(body))
    for name, (first, last) in zip(names, spans, strict=True):
        texts = tuple(line[first - 1 : last].strip() for line in body[:200])
        found.places.append(Place(name, texts, header=False, unit=values.unit_of(name)))
    _decimal(found)
    _header(found, lines[: above or 0])
    return found


def _heading_at(lines: list[str], run: _Run) -> tuple[int, tuple[str, ...], int]:
    """Return the line of names, the units of the line below it if these are units, and where the rows end.

    The rows are the longest stretch of lines with numbers: header lines may have as many cells as the table.
    """
    best, first = (run.first, run.first), run.first
    for at in range(run.first, run.last + 1):
        if at == run.last or _numeric(lines[at], run.delimiter) < _ROW:
            if at - first > best[1] - best[0]:
                best = first, at
            first = at + 1
    start, last = best
    if start == last:
        return run.first, (), run.last
    leads = [values.looks_numeric(_split(line, run.delimiter)[0]) for line in lines[start:last]]
    if len(leads) > 1 and not leads[-1] and all(leads[:-1]):
        last -= 1  # a closing line with a number, such as how many rows there are
    above = _split(lines[start - 1], run.delimiter) if start > run.first else ()
    named = [cell.strip("[]() ").lower() in values.UNITS for cell in above if cell.strip()]
    if start - 1 > run.first and named and sum(named) >= 0.5 * len(named):
        return start - 2, above, last
    return max(start - 1, run.first), (), last


def _heading_start(heading: str, delimiter: str, above: list[str]) -> str:
    """Return the shortest start of the heading that no line above it has."""
    mark = " " if delimiter == BLANKS else delimiter
    start = heading.split(mark, maxsplit=1)[0] + mark if heading.split(mark, maxsplit=1)[0] else heading
    return start if not any(line.startswith(start) for line in above) else heading


def _end(found: Found, lines: list[str], run: _Run, rows: int) -> None:
    rest = [line for line in lines[run.last :] if line.strip()]
    if not rest or found.table is None:
        return
    if not lines[run.last].strip() and len(rest) > 1:
        found.table["until_blank"] = True
        found.note("end of table", "an empty line", "other lines follow after it", 0.8)
        return
    last = rest[0]
    word = re.split(r"[\s;|\t,:=]", last)[0]
    found.table["end"] = last[: len(word) + 1] if len(last) > len(word) else word
    counted = re.search(r"(\d+)\D*$", last)
    if counted and int(counted[1]) == rows:
        found.table["declared"] = {"end": True}
        found.note("end of table", last, f"the last line repeats the number of rows, {rows}", 0.95)
    else:
        found.note("end of table", last, "the first line after the table", 0.7)


def _blocks(found: Found, lines: list[str], again: list[int], run: _Run) -> None:
    """Say how a file with the same heading many times falls into blocks."""
    ends = [_after_table(lines, start, run) for start in again[:-1]]
    starts = [next(line for line in lines[end:] if line.strip()) for end in ends]
    common = starts[0]
    for line in starts[1:]:
        while not line.startswith(common):
            common = common[:-1]
    word = re.match(r"\D*", common)
    start = (word[0] if word else common).rstrip()
    if len(start) >= 2:
        found.block = {"starts": start}
        found.note("blocks", start, f"the heading stands {len(again)} times; each block begins so", 0.8)


def _after_table(lines: list[str], heading: int, run: _Run) -> int:
    at = heading + 1
    while at < len(lines) and len(_split(lines[at], run.delimiter)) == run.cells and lines[at].strip():
        at += 1
    return at


def _decimal(found: Found) -> None:
    texts = [text for place in found.places for text in place.texts]
    decimal, thousands, reason, sure = values.decimal_mark(texts)
    if found.table is not None and found.table.get("delimiter") == "," and decimal == ",":
        return
    found.note("decimal mark", decimal, reason, sure)
    if decimal != ".":
        found.writing["decimal"] = decimal
    if thousands:
        found.writing["thousands"] = thousands


def _header(found: Found, lines: list[str]) -> None:
    """Find what parts key and value of the lines above the table, and keep each as a place."""
    filled = [line for line in lines if line.strip()]
    scores = Counter({mark: sum(1 for line in filled if 0 < line.find(mark) < 40) for mark in _SEPARATORS})
    if found.table is not None and scores[found.table.get("delimiter", "")] == len(filled) > 0:
        scores[found.table["delimiter"]] += 1
    separator, times = scores.most_common(1)[0]
    if not filled or not times:
        return
    pairs = [line.split(separator) for line in filled if separator in line]
    rest = [[part.strip() for part in pair[1:]] for pair in pairs]
    several = max((sum(1 for part in parts if part) for parts in rest), default=1) if separator not in ":" else 1
    found.header["separator"] = separator
    if several > 1:
        found.header["values"] = several
    found.note("header", f"{times} lines", f"key and value are parted by {separator!r}", 0.9 if times > 1 else 0.6)
    for line in filled:
        key, mark, rest_of = line.partition(separator)
        if not mark or not key.strip():
            continue
        parts = [part.strip() for part in rest_of.split(separator)] if several > 1 else [rest_of.strip()]
        for nth, part in enumerate(parts[:several], start=1):
            if part:
                found.places.append(Place(key.strip(), (part,), header=True, unit=values.unit_of(key.strip()), nth=nth))


def _slips(lines: list[str]) -> Found | None:
    """Return slips between rules, if the file is made of them."""
    rules = Counter(line for line in lines if re.fullmatch(r"\s*([-=*+_#])[-=*+_# ]{5,}", line))
    if not rules or rules.most_common(1)[0][1] < 2:
        return None
    rule = rules.most_common(1)[0][0]
    filled = [line for line in lines if line.strip() and line != rule]
    matched = [match for line in filled if (match := _SLIP_LINE.match(line))]
    if len(matched) < 0.9 * len(filled) or len(matched) < 3:
        return None
    found = Found("slip", block={"rule": rule[:6]})
    found.note("slips", f"{rules[rule] // 2 or 1}", f"labels and values stand between rules {rule[:10]}", 0.9)
    texts: dict[str, list[str]] = {}
    units: dict[str, str] = {}
    for match in matched:
        texts.setdefault(match[1], []).append(match[2])
        if match[3]:
            units[match[1]] = values.UNITS.get(match[3].lower(), match[3])
    found.places = [Place(name, tuple(given), header=False, unit=units.get(name)) for name, given in texts.items()]
    found.table = {}
    decimal, _, reason, sure = values.decimal_mark(text for given in texts.values() for text in given)
    found.note("decimal mark", decimal, reason, sure)
    if decimal != ".":
        found.writing["decimal"] = decimal
    return found
