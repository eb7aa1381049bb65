"""The rules a renderer has to keep, one function each; callable without pytest."""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import PurePosixPath

import polars as pl

from plugins.api import Artefact, Renderer, Scope
from plugins.contract import trial
from plugins.contract.model import TIME_LIMIT

RULES: dict[str, "RendererRule"] = {}

HOSTILE = "<script>alert(1)</script>\" onmouseover='x' &amp; \u202e"


@dataclass(frozen=True)
class RendererSubject:
    """A renderer under test; a shipped one may write anywhere below the folder of the pages."""

    renderer: Renderer
    shipped: bool = False
    limit: float = TIME_LIMIT

    def draw(self, tables: Mapping[str, pl.DataFrame]) -> list[Artefact]:
        """Render everything under the time limit."""
        made = trial.timed("rendering", lambda: list(self.renderer.render(tables, Scope())), self.limit)
        for one in made:
            if not isinstance(one, Artefact):
                raise trial.FailedError(f"rendering gave {type(one).__name__}; it must give artefacts")
        return made


Check = Callable[[RendererSubject], Iterator[str]]


@dataclass(frozen=True)
class RendererRule:
    """One promise of a renderer: name, sentence and check."""

    name: str
    sentence: str
    check: Check

    def findings(self, subject: RendererSubject) -> list[str]:
        """Return what breaks the rule, one sentence each; a renderer that raises or hangs breaks it."""
        found: list[str] = []
        try:
            found.extend(self.check(subject))
        except trial.FailedError as fault:
            found.append(str(fault))
        return found


def rule(sentence: str) -> Callable[[Check], Check]:
    """Register a check under the name of its function."""

    def register(check: Check) -> Check:
        RULES[check.__name__] = RendererRule(check.__name__, sentence, check)
        return check

    return register


def tables(rows: int = 2, label: str = "") -> dict[str, pl.DataFrame]:
    """Return every table a renderer is handed, with rows of invented values that fit together by their ids."""
    from plugins.renderers.verbs.tables import TABLES

    return {
        name: pl.DataFrame(
            {
                column: [_value(column, kind, number, label) for number in range(rows)]
                for column, kind in schema.items()
            },
            schema=schema,
        )
        for name, schema in TABLES.items()
    }


def _value(column: str, kind: pl.DataType, number: int, label: str) -> object:
    if kind == pl.String():
        words = {"verdict": "pass", "stage": "read", "revision": "1", "text": "4.0", "wheel": "left"}
        return words.get(column, f"{label}{column} {number}")
    if kind == pl.Date():
        return date(2026, 5, 1 + number)
    if kind == pl.Boolean():
        return number % 2 == 0
    return number + 1


def _pages(made: list[Artefact]) -> Iterator[tuple[str, str]]:
    for one in made:
        if one.media_type.split(";")[0] in {"text/html", "image/svg+xml", "text/css"}:
            content = one.content
            yield one.path, content if isinstance(content, str) else content.decode("utf-8", "replace")


@rule("it has a short name")
def says_its_name(subject: RendererSubject) -> Iterator[str]:
    """Look at the name: it is the folder of a package's pages."""
    name = subject.renderer.name
    if not (isinstance(name, str) and re.fullmatch(r"[a-z][a-z0-9_-]{0,39}", name)):
        yield f"the name {name!r} is no short name of small letters, digits, - and _"


@rule("tables without rows give pages or none, and no failure")
def draws_emptiness(subject: RendererSubject) -> Iterator[str]:
    """Render tables without rows, and no tables at all."""
    subject.draw(tables(rows=0))
    subject.draw({})
    yield from ()


@rule("something is drawn of tables with rows")
def draws_something(subject: RendererSubject) -> Iterator[str]:
    """Render tables with rows."""
    if not subject.draw(tables()):
        yield "nothing is drawn of tables with two rows each"


@rule("the same tables give the same bytes")
def draws_the_same_twice(subject: RendererSubject) -> Iterator[str]:
    """Render twice."""
    first, second = subject.draw(tables()), subject.draw(tables())
    if first != second:
        other = next((one.path for one, two in zip(first, second, strict=False) if one != two), "the list of files")
        yield f"{other} differs the second time: no clock, no random order"


@rule("files lie below the folder of the pages, those of a package below its own name")
def stays_in_its_folder(subject: RendererSubject) -> Iterator[str]:
    """Look at the paths, also of hostile labels."""
    for made in (subject.draw(tables()), subject.draw(tables(label="../../" + HOSTILE))):
        for path in (one.path for one in made):
            parts = PurePosixPath(path).parts
            if path.startswith("/") or ".." in parts or "\\" in path or ":" in path:
                yield f"'{path[:80]}' is no relative path with forward slashes"
            elif not subject.shipped and (len(parts) < 2 or parts[0] != subject.renderer.name):
                yield f"'{path[:80]}' does not lie below '{subject.renderer.name}/'"


@rule("labels are shown as text and open nothing")
def escapes_labels(subject: RendererSubject) -> Iterator[str]:
    """Render tables whose every text is hostile."""
    for path, page in _pages(subject.draw(tables(label=HOSTILE))):
        if "<script>alert(1)" in page:
            yield f"{path}: markup in a label is not escaped"


@rule("a page needs no network")
def needs_no_network(subject: RendererSubject) -> Iterator[str]:
    """Look for what a browser would fetch."""
    fetched = re.compile(
        r"""(?:src|href|data|action)\s*=\s*["']?\s*(?:https?:)?//|url\(\s*["']?(?:https?:)?//|@import""", re.I
    )
    for path, page in _pages(subject.draw(tables())):
        found = fetched.search(page)
        if found:
            yield f"{path}: it fetches {page[found.start() : found.start() + 60]!r}"


@rule("it opens no connection, starts no process and writes no file")
def draws_purely(subject: RendererSubject) -> Iterator[str]:
    """Watch what is tried while it renders."""
    try:
        subject.draw(tables())
    except trial.ImpureAttemptError as fault:
        yield str(fault)


@rule("an answer comes in time")
def draws_in_time(subject: RendererSubject) -> Iterator[str]:
    """Render within the limit."""
    subject.draw(tables())
    yield from ()
