"""Workspaces made of the demo's exports; the whole demo is run once for all tests that read it."""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings as hypothesis_settings

from pipeline import workspace
from pipeline.update import describe_catalogue
from pipeline.workspace import Workspace
from tests.support import CHROMIUM, drop, exports, run

# A loaded machine must not turn a slow example into a failure; the tests are about figures.
hypothesis_settings.register_profile("patient", deadline=None)
hypothesis_settings.load_profile("patient")


@pytest.fixture(scope="session")
def described(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the file of a store that knows the catalogue and holds nothing, made once: its views take their time."""
    from warehouse.store import open_store
    from warehouse.working import WORKING_NAME

    made = workspace.create(tmp_path_factory.mktemp("described") / "lab")
    with open_store(made.store, made.series) as opened:
        describe_catalogue(opened)
        opened.refresh_macros()
    return made.store / WORKING_NAME


@pytest.fixture
def lab(tmp_path: Path, described: Path) -> Workspace:
    """Give an empty workspace."""
    made = workspace.create(tmp_path / "lab")
    shutil.copyfile(described, made.store / described.name)
    return made


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    """Give the whole demo, run from exports to pages. Tests read it and never change it."""
    made = workspace.create(tmp_path_factory.mktemp("demo") / "lab")
    drop(made, exports("**/*"))
    run(made, pages=True)
    return made


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Give a Chromium; by module, since its driver keeps an event loop running that others need."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="the playwright package is not installed")
    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine")
    with sync_api.sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield opened
        opened.close()
