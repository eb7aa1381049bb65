"""Reads the data files of check values."""

import tomllib
from functools import cache
from typing import Any

import pytest

from tests.support import ROOT

FOLDER = ROOT / "pipeline" / "check_values"


@cache
def entries(table: str) -> list[dict[str, Any]]:
    """Return the entries of that name in all data files, each with the file it stands in."""
    found = []
    for path in sorted(FOLDER.glob("*.toml")):
        content = tomllib.loads(path.read_text(encoding="utf-8"))
        found += [entry | {"file": path.stem} for entry in content.get(table, [])]
    return found


def named(entry: dict[str, Any]) -> Any:
    """Make a test parameter whose name tells place and mark of the source."""
    return pytest.param(entry, id=f"{entry['file']} {entry['id']} [{entry['mark']}]")
