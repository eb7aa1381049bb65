"""Fixtures of the warehouse's tests: an empty workspace and an open store."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from warehouse.store import Store, open_store
from warehouse.working import WORKING_NAME


@pytest.fixture(scope="session")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the file of an empty store with its views and macros, made once."""
    folder = tmp_path_factory.mktemp("empty")
    with open_store(folder / "store", folder / "series") as store:
        store.refresh_macros()
    return folder / "store" / WORKING_NAME


@pytest.fixture
def workspace(tmp_path: Path, empty: Path) -> Path:
    """Give a folder with an empty, migrated store."""
    for folder in ("store", "series"):
        (tmp_path / folder).mkdir()
    shutil.copyfile(empty, tmp_path / "store" / WORKING_NAME)
    return tmp_path


@pytest.fixture
def store(workspace: Path) -> Iterator[Store]:
    """Give the open store of the workspace."""
    with open_store(workspace / "store", workspace / "series") as opened:
        yield opened
