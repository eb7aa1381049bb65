"""A table of a layout file, read key by key: a wrong or unknown key is a fault at its own line."""

import difflib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from plugins.layout.lines import Path, nearest_line

T = TypeVar("T")


class LayoutError(ValueError):
    """A fault of a layout file: says file, line, what is wrong and what was expected."""

    def __init__(self, source: str, line: int, sentence: str) -> None:
        super().__init__(f"{source}, line {line}: {sentence}")
        self.line = line


@dataclass
class Section:
    """One table of the layout; every key asked for is known, and `done` refuses the rest."""

    source: str
    data: Mapping[str, Any]
    lines: Mapping[Path, int]
    path: Path = ()
    known: set[str] = field(default_factory=set)
    kind: str = ""

    def fault(self, sentence: str, *keys: str | int) -> LayoutError:
        """Return a fault that points at the line of a key of this section."""
        return LayoutError(self.source, nearest_line(self.lines, (*self.path, *keys)), sentence)

    def _take(self, key: str, kind: type[T] | tuple[type[T], ...], default: T | None, words: str) -> T | None:
        self.known.add(key)
        if key not in self.data:
            return default
        value = self.data[key]
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is int):
            raise self.fault(f"'{key}' must be {words}, not {value!r:.60}", key)
        return value

    def text(self, key: str, default: str | None = None) -> str | None:
        """Return a text, or the default."""
        return self._take(key, str, default, "a text")

    def need_text(self, key: str) -> str:
        """Return a text that the layout must have."""
        value = self.text(key)
        if value is None:
            raise self.fault(f"{self.title()} lacks '{key}'")
        return value

    def need_whole(self, key: str) -> int:
        """Return a whole number that the layout must have."""
        value = self._take(key, int, None, "a whole number")
        if value is None:
            raise self.fault(f"{self.title()} lacks '{key}'")
        return value

    def number(self, key: str) -> float | None:
        """Return a number, or None."""
        value = self._take(key, (int, float), None, "a number")
        return None if value is None else float(value)

    def span(self, key: str) -> tuple[int, int]:
        """Return two whole numbers of which the second is not the smaller; fewer than 1,000 lie between them."""
        self.known.add(key)
        value = self.data.get(key)
        whole = isinstance(value, list) and len(value) == 2 and all(type(bound) is int for bound in value)
        if not whole or value is None:
            raise self.fault(f"'{key}' must be two whole numbers, the first and the last, as in [1, 11]", key)
        if not 0 <= value[1] - value[0] < 1000:
            raise self.fault(f"'{key}' must run upwards over fewer than 1,000 numbers", key)
        return value[0], value[1]

    def flag(self, key: str) -> bool:
        """Return true or false; absent is false."""
        return bool(self._take(key, bool, False, "true or false"))

    def texts(self, key: str, default: tuple[str, ...] = ()) -> tuple[str, ...]:
        """Return a list of texts; a single text counts as a list of one."""
        self.known.add(key)
        if key not in self.data:
            return default
        value = self.data[key]
        values = [value] if isinstance(value, str) else value
        if not isinstance(values, list) or not all(isinstance(item, str) for item in values):
            raise self.fault(f"'{key}' must be a list of texts", key)
        return tuple(values)

    def scalar(self, key: str) -> str | int | float | bool | None:
        """Return a text, number or truth value, or None."""
        self.known.add(key)
        value = self.data.get(key)
        if value is not None and not isinstance(value, str | int | float | bool):
            raise self.fault(f"'{key}' must be a text, a number, true or false", key)
        return value

    def need_scalar(self, key: str) -> str | int | float | bool:
        """Return a text, number or truth value that the layout must have."""
        value = self.scalar(key)
        if value is None:
            raise self.fault(f"{self.title()} lacks '{key}'")
        return value

    def choice(self, key: str, allowed: tuple[str, ...], default: str | None = None) -> str:
        """Return one of the allowed words."""
        value = self.text(key, default)
        if value is None:
            raise self.fault(f"{self.title()} lacks '{key}'")
        if value not in allowed:
            raise self.fault(f"'{key}' is '{value}'; expected one of {', '.join(allowed)}{near(value, allowed)}", key)
        return value

    def inner(self, key: str) -> "Section | None":
        """Return a table inside this one, or None."""
        value = self._take(key, dict, None, "a table")
        return None if value is None else Section(self.source, value, self.lines, (*self.path, key), kind=self.kind)

    def items(self, key: str) -> Iterator["Section"]:
        """Yield the tables of an array of tables."""
        self.known.add(key)
        value = self.data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            raise self.fault(f"'{key}' must be an array of tables", key)
        for position, item in enumerate(value):
            yield Section(self.source, item, self.lines, (*self.path, key, position), kind=self.kind)

    def named(self, key: str, make: Callable[["Section", str], T]) -> dict[str, T]:
        """Return name -> what `make` makes of each table inside the table `key`."""
        outer = self.inner(key)
        made: dict[str, T] = {}
        for name in outer.data if outer else ():
            inner = outer.inner(name) if outer else None
            if inner:
                made[name] = make(inner, name)
        return made

    def title(self) -> str:
        """Return how a message names this section."""
        return "the layout" if not self.path else "[" + ".".join(str(part) for part in self.path) + "]"

    def done(self) -> None:
        """Refuse every key nobody asked for, with the nearest known one."""
        for key in self.data:
            if key not in self.known:
                raise self.fault(f"{self.title()} has no key '{key}'{near(key, tuple(self.known))}", key)


def near(word: str, known: tuple[str, ...]) -> str:
    """Return "; did you mean 'x'?" for the nearest known word, or nothing."""
    close = difflib.get_close_matches(word, known, n=1)
    return f"; did you mean '{close[0]}'?" if close else ""
