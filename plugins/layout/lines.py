"""Where a key of a TOML or JSON text stands: path -> line, which no parser of either format tells."""

import re
from collections.abc import Mapping

#: Keys and positions from the top of the document to a value; positions of array elements count from 0.
Path = tuple[str | int, ...]

#: Longest line of a TOML text that is looked at: patterns and parser take time that grows with its square.
LINE_LIMIT = 10_000

_SECTION = re.compile(r"^\s*(\[\[?)\s*(.+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"^\s*((?:\"[^\"]*\"|'[^']*'|[A-Za-z0-9_-]+)(?:\s*\.\s*(?:\"[^\"]*\"|'[^']*'|[A-Za-z0-9_-]+))*)\s*=")
_PART = re.compile(r"\"([^\"]*)\"|'([^']*)'|([A-Za-z0-9_-]+)")
_TOML_TOKEN = re.compile(r"\"(?:[^\"\\]|\\.)*\"|'[^']*'|#.*|[{}\[\]]")
_JSON_TOKEN = re.compile(r'"((?:[^"\\]|\\.)*)"(\s*:)?|[{}\[\],]')
_JSON_KEY = re.compile(r'"((?:[^"\\]|\\.)*)"(\s*:)?')


def _parts(dotted: str) -> tuple[str, ...]:
    return tuple(a or b or c for a, b, c in _PART.findall(dotted))


def toml_lines(text: str) -> dict[Path, int]:
    """Return path -> line (from 1) for each section, each key that starts a line, and each table in a list of lines.

    A scan, not a parser: a key inside a multi-line string may be listed too, which harms nobody.
    """
    found: dict[Path, int] = {}
    counts: dict[tuple[str, ...], int] = {}
    section: Path = ()
    within: _OpenList | None = None
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LINE_LIMIT:
            continue
        if within is not None:
            found |= dict.fromkeys(within.begun(line), number)
            within = within if within.open else None
        elif head := _SECTION.match(line):
            section = _section(_parts(head[2]), array=head[1] == "[[", counts=counts)
            found.setdefault(section, number)
        elif key := _KEY.match(line):
            parts = _parts(key[1])
            for depth in range(1, len(parts) + 1):
                found.setdefault(section + parts[:depth], number)
            if line[key.end() :].partition("#")[0].strip() == "[":
                within = _OpenList(section + parts)
    return found


class _OpenList:
    """A list that runs over several lines: which of its tables begin on each."""

    def __init__(self, path: Path) -> None:
        self._path, self._depth, self._count = path, 1, 0

    @property
    def open(self) -> bool:
        """Return whether its closing bracket is still to come."""
        return self._depth > 0

    def begun(self, line: str) -> list[Path]:
        """Return the paths of the tables that begin on the next line."""
        begun: list[Path] = []
        for token in _TOML_TOKEN.findall(line):
            if token == "{" and self._depth == 1:  # noqa: S105 - a bracket, no secret
                begun.append((*self._path, self._count))
                self._count += 1
            self._depth += (token in ("{", "[")) - (token in ("}", "]"))
        return begun


def _section(parts: tuple[str, ...], *, array: bool, counts: dict[tuple[str, ...], int]) -> Path:
    if array:
        counts[parts] = counts.get(parts, -1) + 1
    path: Path = ()
    for depth in range(1, len(parts) + 1):
        path += (parts[depth - 1],)
        if parts[:depth] in counts:
            path += (counts[parts[:depth]],)
    return path


def json_lines(text: str) -> list[tuple[str, int]]:
    """Return the keys of a JSON text with their lines, in the order in which they stand."""
    keys: list[tuple[str, int]] = []
    line, position = 1, 0
    for match in _JSON_KEY.finditer(text):
        if match[2]:
            line += text.count("\n", position, match.start())
            position = match.start()
            keys.append((match[1], line))
    return keys


def json_line(keys: list[tuple[str, int]], path: Path) -> int:
    """Return the line of a path: each of its keys is sought after the one before; 1 where none is found."""
    line, start = 1, 0
    for part in path:
        for position in range(start, len(keys)):
            if keys[position][0] == part:
                line, start = keys[position][1], position + 1
                break
    return line


class JsonPlaces:
    """Lines of a JSON text: of its keys, and, looked for only when asked, of the objects in its lists."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._keys = json_lines(text)
        self._items: dict[Path, int] | None = None

    def line(self, path: Path) -> int:
        """Return the line of a path, or of the nearest thing around it."""
        if not any(isinstance(part, int) for part in path):
            return json_line(self._keys, path)
        if self._items is None:
            self._items = _json_items(self._text)
        return nearest_line(self._items, path)


def _json_items(text: str) -> dict[Path, int]:
    """Return the path of each object in a list, and of each key -> line; the text is well-formed."""
    found: dict[Path, int] = {}
    at: list[str | int] = []  # for each open object its last key, for each open list the place it has come to
    line, position = 1, 0
    for match in _JSON_TOKEN.finditer(text):
        line += text.count("\n", position, match.start())
        position, mark = match.start(), match[0]
        if mark[0] == '"':
            if match[2]:
                at[-1] = match[1]
                found.setdefault(tuple(at), line)
        elif mark == ",":
            at[-1] = at[-1] + 1 if isinstance(at[-1], int) else at[-1]
        elif mark in "{[":
            found.setdefault(tuple(at), line)
            at.append("" if mark == "{" else 0)
        else:
            at.pop()
    return found


def nearest_line(lines: Mapping[Path, int], path: Path) -> int:
    """Return the line of the path, or of the longest part of it that has one; 1 where none has."""
    for depth in range(len(path), 0, -1):
        if path[:depth] in lines:
            return lines[path[:depth]]
    return 1
