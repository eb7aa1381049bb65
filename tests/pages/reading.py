"""Reads rendered pages back: tags, attributes, text, links; complains about broken nesting."""

from dataclasses import dataclass, field
from html.parser import HTMLParser

_VOID = {"meta", "link", "br", "img", "hr", "input", "path", "rect"}


@dataclass
class Seen:
    tags: set[str] = field(default_factory=set)
    attributes: set[str] = field(default_factory=set)
    links: list[str] = field(default_factory=list)
    ids: list[str] = field(default_factory=list)
    text: str = ""
    faults: list[str] = field(default_factory=list)


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.seen = Seen()
        self._open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.tags.add(tag)
        for name, value in attrs:
            self.seen.attributes.add(name)
            if name in ("href", "src", "xlink:href"):
                self.seen.links.append(value or "")
            if name == "id":
                self.seen.ids.append(value or "")
        if tag not in _VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in _VOID:
            self._open.pop()

    def handle_endtag(self, tag: str) -> None:
        if tag in _VOID:
            return
        if not self._open or self._open.pop() != tag:
            self.seen.faults.append(f"</{tag}> at {self.getpos()} closes nothing")

    def handle_data(self, data: str) -> None:
        if not self._open or self._open[-1] not in ("style", "script"):
            self.seen.text += data

    def close(self) -> None:
        super().close()
        self.seen.faults += [f"<{tag}> is never closed" for tag in self._open]


def read(page: str) -> Seen:
    """Return what a browser would see of a page."""
    reader = _Reader()
    reader.feed(page)
    reader.close()
    return reader.seen


def rows(page: str, section: str | None = None) -> list[list[str]]:
    """Return the cells of all table rows of a page, or of its section of that id, as text without markup."""
    return _Rows.of(page, section)


class _Rows(HTMLParser):
    def __init__(self, section: str | None) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[list[str]] = []
        self._wanted, self._depth, self._inside = section, 0, section is None
        self._in_cell = False

    @classmethod
    def of(cls, page: str, section: str | None) -> list[list[str]]:
        reader = cls(section)
        reader.feed(page)
        return [[" ".join(cell.split()) for cell in row] for row in reader.found if row]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "section":
            if self._inside and self._wanted is not None:
                self._depth += 1
            elif dict(attrs).get("id") == self._wanted:
                self._inside, self._depth = True, 1
        if not self._inside:
            return
        if tag == "tr":
            self.found.append([])
        if tag == "td" or (tag == "th" and dict(attrs).get("scope") == "row"):
            self.found[-1].append("")
            self._in_cell = True
        elif self._in_cell and tag in ("span", "div", "br", "svg", "a", "ul", "li", "summary", "data"):
            self.found[-1][-1] += " "

    def handle_endtag(self, tag: str) -> None:
        if tag == "section" and self._wanted is not None and self._inside:
            self._depth -= 1
            self._inside = self._depth > 0
        if tag in ("td", "th"):
            self._in_cell = False

    def handle_data(self, data: str) -> None:
        if self._in_cell:
            self.found[-1][-1] += data
