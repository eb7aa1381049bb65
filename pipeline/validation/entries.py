"""Reads the data files of check values that come with the program."""

import tomllib
from functools import cache
from pathlib import Path

from pipeline.validation.model import Entry

FOLDER = Path(__file__).parents[1] / "check_values"


@cache
def load() -> tuple[Entry, ...]:
    """Return every entry of every file, with `file`, `kind` (name of its table) and `number` within the kind."""
    found: list[Entry] = []
    for path in sorted(FOLDER.glob("*.toml")):
        content = tomllib.loads(path.read_text(encoding="utf-8"))
        for kind, listed in content.items():
            if isinstance(listed, list):
                found += [
                    entry | {"file": path.stem, "kind": kind, "number": number}
                    for number, entry in enumerate(listed, start=1)
                ]
    return tuple(found)


def of_kind(kind: str) -> list[Entry]:
    """Return the entries of one kind."""
    return [entry for entry in load() if entry["kind"] == kind]
