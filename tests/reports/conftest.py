"""A demo with issued reports, and the same after a mix card was corrected and the reports were issued again."""

import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest

from pipeline import settings, workspace
from pipeline.reports import Asked, Report, issue
from pipeline.workspace import Workspace
from tests.history.conftest import AFTER, BEFORE, MIX
from tests.support import run

#: A production sample of the mix that is corrected, and a sample of another mix.
SAMPLE, OTHER = "HB-0012", "QL-0001"


def issued_now(at: Workspace, *samples: str, **given: str) -> dict[str, Report]:
    """Issue what is due of samples; sample -> report."""
    reports = issue(at, settings.load(at.root), Asked(samples=samples, **given))
    return {report.sample_id: report for report in reports}


def correct(at: Workspace) -> None:
    """Drop a later issue of a mix card, with another bulk specific gravity of the aggregate, and take it in."""
    card = (at.inbox / "mix_card" / f"{MIX}-r1.toml").read_text(encoding="utf-8")
    later = card.replace(BEFORE, AFTER).replace("written = 2026-03-29", "written = 2026-09-01")
    assert later.count(AFTER) == 1
    (at.inbox / "mix_card" / f"{MIX}-r1-corrected.toml").write_text(later, encoding="utf-8")
    run(at)


@dataclass(frozen=True)
class Amended:
    """A workspace whose reports were issued, then one of them again: what each call gave."""

    at: Workspace
    first: dict[str, Report]
    run_of_first: int
    second: dict[str, Report]


@pytest.fixture(scope="session")
def amended(demo: Workspace, tmp_path_factory: pytest.TempPathFactory) -> Amended:
    """Give the demo with reports issued before and after a correction. Tests read it and never change it."""
    root = tmp_path_factory.mktemp("amended") / "lab"
    shutil.copytree(demo.root, root)
    made = workspace.find(root)
    first = issued_now(made, SAMPLE, OTHER)
    from warehouse.read import connect

    with connect(made.root) as connection:
        at_first = connection.execute("select max(run_id) from run").fetchall()[0][0]
    correct(made)
    second = issued_now(made, SAMPLE, OTHER, reason="gravity of the stockpile corrected")
    return Amended(made, first, at_first, second)


@pytest.fixture
def copy(amended: Amended, tmp_path: Path) -> Workspace:
    """Give a copy of it that a test may change."""
    shutil.copytree(amended.at.root, tmp_path / "lab")
    return workspace.find(tmp_path / "lab")
