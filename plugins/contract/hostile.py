"""Variants of an export as real life and malice make them: cut, re-encoded, rearranged, spoilt, endless."""

import codecs
import random
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from plugins.text import decode

#: Size of the export of noise, and of one that is within the limit but makes no sense.
ENDLESS, LONG = 100 << 20, 1 << 20

_BINARY = (b"PK\x03\x04", b"SQLite format 3\x00", b"\x89PNG", b"\xd0\xcf\x11\xe0")
_DELIMITERS = ";\t|,"
_CUTS = 24

#: Larger exports are cut in fewer places.
_SMALL = 5_000


@dataclass(frozen=True)
class Variant:
    """A changed copy of an export: what was done to it, and its bytes."""

    title: str
    content: bytes


def is_text(content: bytes) -> bool:
    """Return whether an export is text, as far as its first bytes tell."""
    return not content.startswith(_BINARY)


def text_of(content: bytes) -> str:
    """Return the text of an export, line breaks as they stand."""
    return decode(content, ("utf-8", "cp1252", "latin-1"))


def _encoded(text: str, like: bytes) -> bytes:
    """Encode a changed text as the original was."""
    if like.startswith(codecs.BOM_UTF8):
        return text.encode("utf-8-sig")
    if like.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return text.encode("utf-16")
    for encoding in ("utf-8", "cp1252"):
        try:
            if like.decode(encoding):
                return text.encode(encoding)
        except UnicodeError:
            continue
    return text.encode("latin-1", errors="replace")


def truncated(content: bytes) -> Iterator[Variant]:
    """Cut at the end of lines and in the middle of them; of what has no lines, anywhere."""
    if is_text(content) and not content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        ends = [match.end() for match in re.finditer(rb"\r\n|\n|\r", content)]
        middles = [(start + end) // 2 for start, end in zip([0, *ends], ends, strict=False) if end - start > 2]
        digits = [match.start() + 1 for match in re.finditer(rb"\d\d", content)]
        most = _CUTS if len(content) < _SMALL else _CUTS // 4
        spots = [spot for found in (ends, middles, digits) for spot in _spread(found, most)]
    else:
        spots = [len(content) * part // 12 for part in range(1, 12)]
    for spot in sorted({spot for spot in spots if 0 < spot < len(content.rstrip())}):
        yield Variant(f"cut after {spot} bytes", content[:spot])


def _spread(spots: list[int], most: int) -> list[int]:
    step = max(1, len(spots) // most)
    return spots[::step]


def line_ends(content: bytes) -> Iterator[Variant]:
    """Write the line breaks of other systems."""
    text = text_of(content)
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    for title, end in (("CR LF", "\r\n"), ("LF", "\n"), ("CR", "\r")):
        if (changed := plain.replace("\n", end)) != text:
            yield Variant(f"line ends {title}", _encoded(changed, content))


def marked(content: bytes) -> Iterator[Variant]:
    """Put a byte-order mark in front, or take it away."""
    if content.startswith(codecs.BOM_UTF8):
        yield Variant("without byte-order mark", content[len(codecs.BOM_UTF8) :])
    elif not content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        yield Variant("with byte-order mark", codecs.BOM_UTF8 + text_of(content).encode())


def reencoded(content: bytes) -> Iterator[Variant]:
    """Save the text as other programs do."""
    text = text_of(content)
    for encoding in ("utf-8", "utf-16", "utf-16-be", "cp1252", "cp437", "utf-32"):
        try:
            yield Variant(f"as {encoding}", text.encode(encoding))
        except UnicodeEncodeError:
            continue


@dataclass(frozen=True)
class _Table:
    """Where the longest table of a delimited text stands: its delimiter, heading line and end, as line numbers."""

    delimiter: str
    heading: int
    end: int


def table_of(text: str) -> _Table | None:
    """Find the longest run of lines with the same number of delimiters below a line of words."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    best: _Table | None = None
    for delimiter in _DELIMITERS:
        counts = [line.count(delimiter) for line in lines]
        for start, end in _runs(counts):
            if end - start < 3 or (best and end - start <= best.end - best.heading):
                continue
            if not any(_number(cell) for cell in lines[start].split(delimiter)):
                best = _Table(delimiter, start, end)
    return best


def _runs(counts: list[int]) -> Iterator[tuple[int, int]]:
    start = 0
    for place in range(1, len(counts) + 1):
        if place == len(counts) or counts[place] != counts[start]:
            if counts[start] >= 2:
                yield start, place
            start = place


def _number(cell: str) -> bool:
    return re.fullmatch(r"\s*[-+]?\d+([.,]\d+)?\s*", cell) is not None


def _table_changed(content: bytes, title: str, change: "list[int] | None") -> Iterator[Variant]:
    text = text_of(content).replace("\r\n", "\n").replace("\r", "\n")
    table = table_of(text)
    if table is None:
        return
    lines = text.split("\n")
    for number in range(table.heading, table.end):
        cells = lines[number].split(table.delimiter)
        if change is None:
            cells = [*cells, "zz surplus" if number == table.heading else "77"]
        else:
            cells = [cells[place % len(cells)] for place in _order(len(cells), change)]
        lines[number] = table.delimiter.join(cells)
    yield Variant(title, _encoded("\n".join(lines), content))


def _order(count: int, turn: list[int]) -> list[int]:
    """Turn the order of columns; where the last one is empty in most rows it stays last."""
    return [(place + turn[0]) % count for place in range(count)] if turn[0] else list(reversed(range(count)))


def moved_columns(content: bytes) -> Iterator[Variant]:
    """Put the columns of the table into another order, heading and rows alike."""
    yield from _table_changed(content, "columns turned by one", [1])
    yield from _table_changed(content, "columns reversed", [0])


def _header_lines(lines: list[str]) -> tuple[str, list[int]]:
    """Return how key and value are separated in the lines after the first, and which of those lines hold a pair."""
    pairs = [re.match(r"[\w %/.,-]+?(\s{2,}|\s*[=:;\t|]\s*)\S", line) for line in lines[1:12]]
    kinds = [(match[1].strip() or (match[1] if "\t" in match[1] else "  ")) if match else "" for match in pairs]
    counted = Counter(kind for kind in kinds if kind)
    if not counted:
        return "", []
    separator = counted.most_common(1)[0][0]
    once = separator == "  "
    return separator, [
        number
        for number, kind in enumerate(kinds, start=1)
        if kind == separator and (once or lines[number].count(separator) == 1)
    ]


def moved_header(content: bytes) -> Iterator[Variant]:
    """Exchange two header lines that hold a key and a value."""
    lines = text_of(content).replace("\r\n", "\n").replace("\r", "\n").split("\n")
    _, found = _header_lines(lines)
    for first, second in pairwise(found):
        if second == first + 1:
            lines[first], lines[second] = lines[second], lines[first]
            yield Variant(f"header lines {first + 1} and {second + 1} exchanged", _encoded("\n".join(lines), content))
            return


def extra_header(content: bytes) -> Iterator[Variant]:
    """Add a header line nobody asked for."""
    lines = text_of(content).replace("\r\n", "\n").replace("\r", "\n").split("\n")
    separator, found = _header_lines(lines)
    if len(found) > 1:
        more = f"zz_surplus{separator * (6 if separator == '  ' else 1)}77"
        yield Variant(
            "a header line more", _encoded("\n".join([*lines[: found[0]], more, *lines[found[0] :]]), content)
        )


def extra_columns(content: bytes) -> Iterator[Variant]:
    """Add a column nobody asked for at the end of the table."""
    yield from _table_changed(content, "a column more", None)


_LABELS = {
    "markup": b"<script>alert(1)</script>",
    "a formula": b"=1+1",
    "a path": b"../../x",
    "NUL bytes": bytes(64),
    "bytes of no encoding": b"\xff\xfe\xfa\x81\x8d" * 8,
    "control characters": b"\x1b[31m\x07\x08\x0b",
    "a long field": b"9" * 200_000,
    "many lines": b"\n" * 5_000,
    "many delimiters": b";,\t|" * 2_000,
}


def spoilt(content: bytes) -> Iterator[Variant]:
    """Put hostile bytes into the middle, at the front and behind; and a random tenth of the bytes of a copy."""
    for title, label in _LABELS.items():
        middle = len(content) // 2
        yield Variant(f"{title} in the middle", content[:middle] + label + content[middle:])
        yield Variant(f"{title} at the end", content + label)
    chance = random.Random(4)  # noqa: S311 - not for secrets: the same variants in every run
    spoiled = bytearray(content)
    for _ in range(max(1, len(content) // 10)):
        spoiled[chance.randrange(len(spoiled))] = chance.randrange(256)
    yield Variant("a tenth of the bytes at random", bytes(spoiled))


def nothing() -> Iterator[Variant]:
    """Exports without content."""
    yield Variant("no byte", b"")
    yield Variant("blanks and line breaks", b" \r\n\t\n" * 5)
    yield Variant("a byte-order mark and nothing else", codecs.BOM_UTF8)


def strange_heads() -> Iterator[Variant]:
    """Exports of no kind at all, which nobody may claim."""
    chance = random.Random(7)  # noqa: S311
    yield from nothing()
    yield Variant("random bytes", chance.randbytes(9000))
    yield Variant("zero bytes", bytes(9000))
    yield Variant("an archive of nothing", b"PK\x03\x04" + bytes(60))
    yield Variant("a line of prose", b"These are the minutes of the meeting.\n")
    yield Variant("numbers", b"1;2;3\n4;5;6\n")
    yield Variant("an object", b'{"a": [1, 2, 3]}\n')
    yield Variant("an element", b"<?xml version='1.0'?><a><b c='1'/></a>\n")


def long_noise(content: bytes) -> Variant:
    """Return the export's head and then a megabyte of noise."""
    noise = random.Random(9).randbytes(1 << 16)  # noqa: S311
    return Variant("its head and a megabyte of noise", content[:2000] + noise * (LONG >> 16))


def endless(content: bytes, path: Path) -> Path:
    """Make a file of 100 MB of noise begin like the export; the file is made once and its head is replaced."""
    if not path.exists():
        block = random.Random(11).randbytes(1 << 20)  # noqa: S311
        with path.open("wb") as out:
            for _ in range(ENDLESS >> 20):
                out.write(block)
    with path.open("r+b") as out:
        out.write(content[:8192].ljust(8192, b"\n"))
    return path
