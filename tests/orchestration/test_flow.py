"""The same order as a flow: equal results, equal warehouse, recorded runs, nothing told to anyone else."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from pipeline import workspace
from pipeline.contents import contents, differences
from pipeline.workspace import Workspace
from schemas.describe import describe_all
from tests.orchestration.children import HERE, called, environment, runs, tasks
from tests.support import drop, exports, run
from warehouse.lock import writer
from warehouse.read import connect
from warehouse.sql import fetch

#: Told to a child that notes what the environment was when the orchestrator was first imported.
TELLTALE = """
import os, sys
class Telltale:
    def find_spec(self, name, path=None, target=None):
        if name == "prefect":
            print(os.environ.get("DO_NOT_TRACK"), os.environ.get("PREFECT_SERVER_ANALYTICS_ENABLED"))
            sys.meta_path.remove(self)
sys.meta_path.insert(0, Telltale())
import {module}
"""


def walked(how: str, folder: Path, env: dict[str, str]) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, str(HERE / "flow_of_steps.py"), how, str(folder)],
        env=env, capture_output=True, text=True, timeout=100, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


@pytest.fixture(scope="module")
def flow(api_url: str, notes: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Give what the small order of steps gave as a flow."""
    return walked("flow", tmp_path_factory.mktemp("walked"), environment(notes, api_url))


@pytest.mark.orchestrated
def test_both_executors_give_the_same(flow: dict[str, Any], notes: Path, tmp_path: Path) -> None:
    local = walked("local", tmp_path, environment(notes))
    assert local["doubled"] == [2, 6, 4]
    assert {name: flow[name] for name in local} == local
    assert flow["outcome"]["run_id"] == 7
    assert flow["outcome"]["problems"] == ["one"]


@pytest.mark.orchestrated
def test_a_passing_fault_is_tried_again_and_a_lasting_one_is_not(flow: dict[str, Any]) -> None:
    assert flow["tried"] == {"sometimes": 2, "wrong": 1}
    assert flow["sometimes"] == -4


def series(of: Workspace) -> dict[str, Any]:
    names = [each.name for each in describe_all() if each.ties.storage == "series"]
    with connect(of.root) as connection:
        found = {name: fetch(connection, f'select * from "{name}"') for name in names}
    kept = {name: frame.drop("run_id", "valid_from_run", strict=False) for name, frame in found.items()}
    return {name: frame.sort(frame.columns) for name, frame in kept.items()}


@pytest.mark.orchestrated
def test_the_flow_makes_the_same_warehouse(api_url: str, notes: Path, tmp_path: Path) -> None:
    """The exports include doubled, corrected and refused ones."""
    register = exports("register_book/*", "mix_card/*", "limits_card/*", "unclaimed/*")
    paths = register + exports("balance_*/*", "press_*/*", "track_*/*")[::4]
    local, orchestrated = (workspace.create(tmp_path / name) for name in ("local", "orchestrated"))
    for each in (local, orchestrated):
        drop(each, paths)
    expected = run(local)

    done = called("-w", str(orchestrated.root), "run", "--no-pages", "--json", env=environment(notes, api_url))
    assert done.returncode == (0 if expected.clean else 1), done.stderr
    assert "Traceback" not in done.stderr
    assert json.loads(done.stdout) == json.loads(json.dumps(vars(expected)))

    before, after = contents(local.root), contents(orchestrated.root)
    assert before["property_value"].height > 100
    assert before["refusal"].height > 1
    assert not differences(before, after)
    one, other = series(local), series(orchestrated)
    assert one.keys() == other.keys()
    assert any(frame.height for frame in one.values())
    assert [name for name in one if not one[name].equals(other[name])] == []

    (recorded,) = runs(api_url, orchestrated.root, "COMPLETED")
    assert recorded["state"]["message"].startswith(f"run 1: {expected.exports} exports")
    made = tasks(api_url, recorded)
    assert {task["state_type"] for task in made} == {"COMPLETED"}
    assert len(made) < 20 < len(paths), "one task per step and batch, never per file"


@pytest.mark.orchestrated
def test_a_busy_store_is_said_and_recorded(api_url: str, notes: Path, lab: Workspace) -> None:
    with writer(lab.store):
        done = called("-w", str(lab.root), "run", env=environment(notes, api_url))
    assert done.returncode == 3
    assert "being written by process" in done.stderr
    assert "Traceback" not in done.stderr
    (recorded,) = runs(api_url, lab.root, "FAILED")
    assert "StoreBusyError" in recorded["state"]["message"]


@pytest.mark.parametrize("module", ["pipeline.flow", "pipeline.service"])
def test_telemetry_is_off_before_the_import(module: str, notes: Path) -> None:
    env = environment(notes, DO_NOT_TRACK="0", PREFECT_SERVER_ANALYTICS_ENABLED="true")
    code = TELLTALE.format(module=module)
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["1", "false"]


def test_the_watch_over_addresses_sees_an_attempt(notes: Path, tmp_path: Path) -> None:
    env = environment(tmp_path / "seen.txt")
    code = "import socket\ntry: socket.create_connection(('192.0.2.1', 9), timeout=0.1)\nexcept OSError: pass"
    subprocess.run([sys.executable, "-c", code], env=env, check=True)
    assert "192.0.2.1" in (tmp_path / "seen.txt").read_text()


@pytest.mark.orchestrated
def test_nothing_outside_this_machine_is_contacted(api_url: str, notes: Path, lab: Workspace) -> None:
    """Covers this run and every child before it, the server from its start included."""
    drop(lab, exports("mix_card/*"))
    done = called("-w", str(lab.root), "run", env=environment(notes, api_url))
    assert "run 1:" in done.stdout, done.stderr
    assert notes.read_text() == ""
