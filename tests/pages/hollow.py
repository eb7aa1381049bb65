"""Looks for what a page says without saying anything: empty headings, tables and sections, and words of programs."""

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser

_VOID = {"meta", "link", "br", "img", "hr", "input", "path", "rect"}
#: Elements that stand for something: without text, drawing or field in them they are holes.
_SPEAKING = {
    "h1", "h2", "h3", "h4", "p", "li", "ul", "ol", "dl", "dt", "dd", "figure", "figcaption", "summary", "a", "title",
    "caption", "thead", "tbody", "section", "svg", "option", "label", "text",
}  # fmt: skip
#: What stands for itself without text; scripts write into an output.
_THINGS = {"path", "rect", "input", "circle", "line", "output"}
#: Elements that may hold a sign alone.
_MARKS = {"span"}
#: Words by which programs name what they do not know; as whole words, as programs write them. "None is" is a sentence.
PROGRAM_WORDS = re.compile(
    r"(?<![\w-])(nan|NaN|NAN|None(?! (?:is|of|was))|null|Null|NULL|inf|Inf|Infinity|NaT|undefined)(?![\w-])"
)
#: Attributes whose words are ours or names of classes, not figures or labels.
_OWN_WORDS = {"class", "id", "href", "name", "data-sortable", "data-group", "for", "type", "autocomplete"}


@dataclass
class _Open:
    tag: str
    name: str
    filled: bool = False
    #: A section speaks by more than its headings.
    only_headings: bool = True


@dataclass
class _Looker(HTMLParser):
    found: list[str] = field(default_factory=list)
    open: list[_Open] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = {name: value or "" for name, value in attrs}
        self._words(" ".join(value for name, value in told.items() if name not in _OWN_WORDS))
        if tag in _THINGS:
            self._fill()
        if tag not in _VOID:
            self.open.append(_Open(tag, told.get("id") or told.get("class", "")))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in _VOID:
            self.handle_endtag(tag)

    def handle_data(self, data: str) -> None:
        if any(each.tag in ("style", "script") for each in self.open):
            return
        self._words(data)
        # A dash or an ellipsis says nothing.
        if any(each.isalnum() for each in data) or (self.open and self.open[-1].tag in _MARKS):
            self._fill()

    def handle_endtag(self, tag: str) -> None:
        if tag in _VOID or not self.open:
            return
        closed = self.open.pop()
        where = f"<{tag}> '{closed.name}' in {' > '.join(each.name or each.tag for each in self.open[2:])}"
        if tag in _SPEAKING and not closed.filled:
            self.found.append(f"{where} is empty")
        elif tag == "section" and closed.only_headings:
            self.found.append(f"{where} holds a heading and nothing else")

    def _fill(self) -> None:
        in_heading = any(each.tag in ("h1", "h2", "h3", "h4") for each in self.open)
        for each in self.open:
            each.filled = True
            each.only_headings &= in_heading

    def _words(self, text: str) -> None:
        self.found += [f"it says '{word}' in '{text.strip()[:60]}'" for word in PROGRAM_WORDS.findall(text)]


def hollow(page: str) -> list[str]:
    """Return a sentence for every hole of a page, and for every word only a program would use."""
    looker = _Looker()
    looker.feed(page)
    looker.close()
    return looker.found
