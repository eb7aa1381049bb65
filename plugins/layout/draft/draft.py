"""Example files -> a proposed layout, what it rests on, and what it reads of the examples as it stands."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import takewhile
from pathlib import Path

from plugins.api import Export, Reading, Refusing
from plugins.layout import database
from plugins.layout.draft import containers, propose, text, write
from plugins.layout.draft.found import Found, Note
from plugins.layout.importer import LayoutImporter
from plugins.layout.section import LayoutError

_ZIP = b"PK\x03\x04"


@dataclass(frozen=True)
class Draft:
    """A proposal.

    Attributes
    ----------
    text
        The layout, TOML.
    family, scores
        The family of records it fills, and how well the examples fill each, 0 to 1.
    notes
        Every finding with its reason and confidence, fields included.
    reading
        What it reads of the examples as it stands, or None where it cannot be used yet.
    fault
        Why it cannot be used yet, with the line to fill in.
    """

    text: str
    family: str
    scores: dict[str, float]
    notes: tuple[Note, ...]
    reading: Reading | None
    fault: str | None


def draft(name: str, paths: Sequence[Path], family: str | None = None) -> Draft:
    """Propose a layout for files of one kind.

    Parameters
    ----------
    name
        Name of the layout and its folder.
    paths
        The examples; the first decides the structure, the others add values.
    family
        Family of records; None takes the one they fill best.

    Raises
    ------
    Refusing
        When an example cannot be looked at: empty, locked, too large.
    """
    exports = [Export.from_path(path) for path in paths]
    found = _look(exports[0].read())
    for other in exports[1:]:
        _add(found, _look(other.read()))
    best, scores = propose.best_family(found, family)
    drafts = propose.records(found, best)
    made = write.layout(name, ", ".join(path.name for path in paths[:3]), found, best, drafts)
    notes = [*found.notes, Note("family", best, _why(scores, family), min(1.0, scores[best] + 0.3))]
    for record in drafts:
        for tie in record.ties:
            place = f"constant '{tie.keys.get('constant')}'"
            if tie.place is not None:
                place = f"{'header' if tie.place.header else 'column'} '{tie.place.name}'"
            notes.append(Note(f"{record.record}.{tie.target}", place, tie.reason, tie.confidence))
        notes += [Note(f"{record.record}.{one.name}", "?", f"not found: {one.sentence}", 0.0) for one in record.lacking]
    reading, fault = _read(made, name, exports)
    return Draft(made, best, scores, tuple(dict.fromkeys(notes)), reading, fault)


def _look(content: bytes) -> Found:
    if not content.strip(b"\xef\xbb\xbf\x00 \t\r\n"):
        raise Refusing("empty", "the file holds nothing but white space")
    if content.startswith(_ZIP):
        return containers.workbook(content)
    if content.startswith(database.MAGIC):
        return containers.tables(content)
    return containers.document(content) or containers.markup(content) or text.look(content)


def _add(found: Found, other: Found) -> None:
    """Add the values of a further example, and keep only what both start with."""
    if other.kind != found.kind:
        found.note("examples", other.kind, f"one example is of kind {other.kind}, the first of kind {found.kind}", 0.2)
        return
    more = {(place.name, place.header, place.nth): place for place in other.places}
    found.places = [
        replace(place, texts=place.texts + more[key].texts)
        if (key := (place.name, place.header, place.nth)) in more
        else place
        for place in found.places
    ]
    starts, theirs = found.recognise.get("starts"), other.recognise.get("starts")
    if starts and theirs and starts != theirs:
        same = takewhile(lambda pair: pair[0] == pair[1], zip(starts, theirs, strict=False))
        found.recognise["starts"] = "".join(first for first, _ in same)


def _why(scores: dict[str, float], asked: str | None) -> str:
    if asked is not None:
        return "as asked for"
    ranked = sorted(scores, key=lambda family: -scores[family])[:3]
    return "its fields are found best: " + ", ".join(f"{family} {scores[family]:.2f}" for family in ranked)


def _read(made: str, name: str, exports: Sequence[Export]) -> tuple[Reading | None, str | None]:
    from plugins.layout import load
    from plugins.layout.bound import bind

    try:
        layout = load.parse(made.encode(), f"{name}/layout.toml")
        bind(layout)
    except LayoutError as fault:
        return None, str(fault)
    importer = LayoutImporter(layout, "0" * 64)
    strangers = [export.name for export in exports if importer.claims(export) is None]
    if strangers:
        return None, f"{name}/layout.toml: [recognise] does not recognise {', '.join(strangers)}"
    return importer.read(exports), None
