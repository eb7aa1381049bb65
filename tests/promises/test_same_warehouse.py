"""Any order, any number of times, in one run or many, and rebuilt: the same warehouse."""

from pathlib import Path

import pytest

from pipeline import settings, workspace
from pipeline.contents import contents, differences
from pipeline.local import Local
from pipeline.rebuild import rebuild
from pipeline.workspace import Workspace
from tests.support import EXPORTS, drop, exports, run, shuffled, troubles


def some() -> list[Path]:
    """Return the register, every export something is wrong with, and a third of the others."""
    register = exports("register_book/*", "mix_card/*", "limits_card/*")
    troubled = {EXPORTS / name for trouble in troubles() for name in (trouble["file"], trouble.get("of")) if name}
    others = exports("balance_*/*", "press_*/*", "track_*/*", "unclaimed/*")
    return register + [path for number, path in enumerate(others) if number % 3 == 0 or path in troubled]


@pytest.fixture(scope="module")
def at_once(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    made = workspace.create(tmp_path_factory.mktemp("once") / "lab")
    drop(made, some())
    run(made)
    return made


def same(one: Workspace, other: Workspace) -> None:
    found = differences(contents(one.root), contents(other.root))
    assert not found, {name: frame.head(5).to_dicts() for name, frame in found.items()}


def test_the_comparison_can_fail(at_once: Workspace, lab: Workspace) -> None:
    drop(lab, some()[:-1])
    run(lab)
    assert differences(contents(at_once.root), contents(lab.root))


def test_there_is_something_to_compare(at_once: Workspace) -> None:
    tables = contents(at_once.root)
    for name in ("weighing", "property_value", "judgement", "refusal", "sample"):
        assert tables[name].height > 5, name
    assert not tables["weighing"]["is_current"].all(), "no correction among the exports"


@pytest.mark.parametrize("seed", [1, 2])
def test_shuffled_and_in_several_runs(at_once: Workspace, lab: Workspace, seed: int) -> None:
    paths = shuffled(some(), seed)
    parts = 5
    for part in range(parts):
        drop(lab, paths[part::parts])
        run(lab)
    same(at_once, lab)


def test_running_twice_changes_nothing(at_once: Workspace, lab: Workspace) -> None:
    drop(lab, some())
    first = run(lab)
    again = run(lab)
    assert first.exports
    assert again.run_id is None
    same(at_once, lab)


def test_the_same_files_touched_again_change_nothing(at_once: Workspace, lab: Workspace) -> None:
    drop(lab, some())
    run(lab)
    for path in lab.inbox.rglob("*"):
        path.touch()
    run(lab)
    same(at_once, lab)


def test_rebuilt_from_the_kept_exports(at_once: Workspace, lab: Workspace) -> None:
    for part in range(3):
        drop(lab, some()[part::3])
        run(lab)
    before = contents(lab.root)
    done = rebuild(lab, settings.load(lab.root), Local())
    assert not done.differences
    assert not differences(before, contents(lab.root))
    same(at_once, lab)


def test_a_rebuilt_warehouse_goes_on(lab: Workspace) -> None:
    drop(lab, some()[:-5])
    run(lab)
    rebuild(lab, settings.load(lab.root), Local())
    drop(lab, some()[-5:])
    assert run(lab).exports
    assert run(lab).run_id is None
