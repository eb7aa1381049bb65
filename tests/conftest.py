"""Workspaces made of the demo's exports; the whole demo is run once for all tests that read it."""

from pathlib import Path

import pytest
from hypothesis import settings as hypothesis_settings

from pipeline import workspace
from pipeline.workspace import Workspace
from tests.support import drop, exports, run

# A loaded machine must not turn a slow example into a failure; the tests are about figures.
hypothesis_settings.register_profile("patient", deadline=None)
hypothesis_settings.load_profile("patient")


@pytest.fixture
def lab(tmp_path: Path) -> Workspace:
    """Give an empty workspace."""
    return workspace.create(tmp_path / "lab")


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    """Give the whole demo, run from exports to pages. Tests read it and never change it."""
    made = workspace.create(tmp_path_factory.mktemp("demo") / "lab")
    drop(made, exports("**/*"))
    run(made, pages=True)
    return made
