"""Hands the check values that come with the program to the tests."""

from typing import Any

import pytest

from pipeline.validation.entries import load
from pipeline.validation.model import Entry


def entries(table: str) -> list[Entry]:
    """Return the entries of that name in all data files, each with the file it stands in."""
    return [entry for entry in load() if entry["kind"] == table]


def named(entry: Entry) -> Any:
    """Make a test parameter whose name tells place and mark of the source."""
    name = entry.get("id", entry["number"])
    return pytest.param(entry, id=f"{entry['file']} {entry['kind']} {name} [{entry.get('mark', '')}]")
