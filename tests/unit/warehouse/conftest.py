"""Fixtures of the warehouse's tests: an empty workspace and an open store."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from warehouse.store import Store, open_store


@pytest.fixture
def workspace(tmp_path: Path) -> Path:
    """Give a folder with an empty, migrated store."""
    open_store(tmp_path / "store", tmp_path / "series").close()
    return tmp_path


@pytest.fixture
def store(workspace: Path) -> Iterator[Store]:
    """Give the open store of the workspace."""
    with open_store(workspace / "store", workspace / "series") as opened:
        yield opened
