"""Finds what a reader of a page sees or hears that is written in plain Latin letters."""

import re
from html.parser import HTMLParser

_VOID = {"meta", "link", "br", "img", "hr", "input"}
#: Attributes that are read, heard, or shown by style sheet or script.
_SHOWN = {"aria-label", "aria-description", "title", "alt", "placeholder", "data-l", "data-shown", "data-unstated"}
_WORD = re.compile(r"[A-Za-z]{2,}")
_GAP = re.compile(r"\{\w+\}")
ISO_DAY = re.compile(r"\b\d{4}-\d\d(-\d\d)?\b")


class _Reader(HTMLParser):
    """Gathers texts; style and script are passed over."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.texts: list[str] = []
        self._open: list[bool] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        outside = bool(self._open) and self._open[-1]
        if not outside:
            self.texts += [_GAP.sub("", value) for name, value in attrs if name in _SHOWN and value]
        if tag not in _VOID:
            self._open.append(outside or tag in ("style", "script"))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in _VOID:
            self._open.pop()

    def handle_endtag(self, tag: str) -> None:
        if tag not in _VOID:
            self._open.pop()

    def handle_data(self, data: str) -> None:
        if not (self._open and self._open[-1]) and data.strip():
            self.texts.append(data.strip())


def texts(page: str) -> list[str]:
    """Return the texts of a page, and of those attributes that are shown or read aloud."""
    reader = _Reader()
    reader.feed(page)
    reader.close()
    return reader.texts


def plain(found: list[str], units: frozenset[str] = frozenset()) -> set[str]:
    """Return the texts that hold a word of two or more plain letters, units aside."""
    spelt = sorted((re.escape(unit) for unit in units), key=len, reverse=True)
    unit = re.compile(rf"(?<![A-Za-z])(?:{'|'.join(spelt)})(?![A-Za-z])") if spelt else None
    return {text for text in found if _WORD.search(unit.sub("", text) if unit else text)}
