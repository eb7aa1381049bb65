"""The demo with one mix design corrected afterwards: a later run, so that there is something to look back to."""

import shutil
from pathlib import Path

import pytest

from pipeline import workspace
from pipeline.workspace import Workspace
from tests.support import run

#: The mix whose combined bulk specific gravity is corrected, from what to what.
MIX, BEFORE, AFTER = "SEDGE-S9", "gsb = 2.702", "gsb = 2.692"


@pytest.fixture(scope="session")
def corrected(demo: Workspace, tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    """Give the demo with a later issue of a mix card. Tests read it and never change it."""
    root = tmp_path_factory.mktemp("corrected") / "lab"
    shutil.copytree(demo.root, root)
    made = workspace.find(root)
    card = (made.inbox / "mix_card" / f"{MIX}-r1.toml").read_text(encoding="utf-8")
    later = card.replace(BEFORE, AFTER).replace("written = 2026-03-29", "written = 2026-09-01")
    assert later.count(AFTER) == 1
    (made.inbox / "mix_card" / f"{MIX}-r1-corrected.toml").write_text(later, encoding="utf-8")
    run(made)
    return made


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder for what commands write."""
    return tmp_path_factory.mktemp("written")
