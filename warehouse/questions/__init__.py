"""Questions an engineer of the trade asks, each a file: the question in words, then its query."""

import re
from dataclasses import dataclass
from pathlib import Path

_HEADER = "-- question: "


@dataclass(frozen=True)
class Question:
    """One question: the name it is asked by, the question in words, the query that answers it."""

    name: str
    words: str
    query: str


def shipped() -> list[Question]:
    """Return every question, by name."""
    return [_parse(path) for path in sorted(Path(__file__).parent.glob("*.sql"))]


def _parse(path: Path) -> Question:
    first, _, query = path.read_text(encoding="utf-8").partition("\n")
    if not first.startswith(_HEADER):
        raise ValueError(f"{path.name} does not start with '{_HEADER.strip()}'")
    return Question(path.stem, first.removeprefix(_HEADER), query.strip())


def named(text: str) -> Question | None:
    """Return the question of that name; None where the text is no name but a query."""
    if not re.fullmatch(r"[a-z_]+", text):
        return None
    return next((each for each in shipped() if each.name == text), None)
