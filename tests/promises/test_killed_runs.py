"""A run killed at any moment leaves the last published warehouse readable, and the next run completes."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pipeline import workspace
from pipeline.contents import contents, differences
from pipeline.workspace import Workspace
from tests.support import ROOT, drop, exports, run
from warehouse.read import connect

REGISTER = ("register_book/*", "mix_card/*", "limits_card/*")
COMMAND = [sys.executable, "-c", "from pipeline.cli.group import main; main()"]


def later() -> list[Path]:
    return exports("balance_journal/*", "press_report/*", "balance_slip/*")[::4]


def start(lab: Workspace) -> subprocess.Popen[bytes]:
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    return subprocess.Popen(
        [*COMMAND, "-w", str(lab.root), "run", "--quiet"],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[Workspace, float]:
    """Give the warehouse of an undisturbed history, and how long its second run took as a process of its own."""
    made = workspace.create(tmp_path_factory.mktemp("whole") / "lab")
    drop(made, exports(*REGISTER))
    run(made)
    drop(made, later())
    started = time.perf_counter()
    assert start(made).wait(timeout=120) in (0, 1)
    return made, time.perf_counter() - started


@pytest.mark.parametrize("share", [0.3, 0.5, 0.65, 0.8, 0.9])
def test_killed_after_a_share_of_its_time(whole: tuple[Workspace, float], lab: Workspace, share: float) -> None:
    undisturbed, seconds = whole
    drop(lab, exports(*REGISTER))
    run(lab)
    before = contents(lab.root)
    drop(lab, later())
    child = start(lab)
    time.sleep(seconds * share)
    child.send_signal(signal.SIGKILL if hasattr(signal, "SIGKILL") else signal.SIGTERM)
    child.wait(timeout=30)
    left = contents(lab.root)
    as_before, as_after = (not differences(left, contents_of) for contents_of in (before, contents(undisturbed.root)))
    assert as_before or as_after, "a reader saw half a run"
    run(lab)
    assert not differences(contents(undisturbed.root), contents(lab.root))
    assert not list(lab.root.rglob("*.new"))


#: Counts from tables that one run changes together: an answer from two states would mix them.
STATE = """
    select (select max(run_id) from run), (select max(valid_from_run) from property_value),
           (select count(*) from property_values), (select count(*) from exports), (select count(*) from weighing)
"""


def figures(lab: Workspace) -> tuple[int, ...]:
    """Ask twice through one connection, long series in between: both answers must be of one state."""
    with connect(lab.root) as connection:
        first = connection.execute(STATE).fetchall()[0]
        connection.execute("select count(*) from compaction_height").fetchall()
        assert connection.execute(STATE).fetchall()[0] == first
    return first


def test_readers_are_never_blocked_and_never_see_half_a_run(lab: Workspace) -> None:
    drop(lab, exports(*REGISTER))
    run(lab)
    before, answers = figures(lab), []
    drop(lab, later())
    child = start(lab)
    while child.poll() is None:
        answers.append(figures(lab))
    after = figures(lab)
    assert before[2] < after[2]
    assert len(answers) > 3, "no reader came in while the run was writing"
    assert set(answers) <= {before, after}


def test_two_writers_the_second_names_the_first(lab: Workspace) -> None:
    from warehouse.lock import writer

    with writer(lab.store):
        done = subprocess.run(
            [*COMMAND, "-w", str(lab.root), "run"],
            cwd=ROOT,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
            capture_output=True,
            text=True,
            check=False,
        )
    assert done.returncode == 3
    assert str(os.getpid()) in done.stderr
    assert "Traceback" not in done.stderr
