"""Children of the tests: the command line, its processes, and what the orchestrator's API says about their runs."""

import json
import os
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.support import ROOT

MAIN = "from pipeline.cli.group import main; main()"
HERE = Path(__file__).parent


def environment(notes: Path, api_url: str | None = None, **given: str) -> dict[str, str]:
    """Return the environment of a child that is watched, reporting to a server or to none."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PREFECT_")}
    paths = os.pathsep.join([str(HERE / "watched"), str(ROOT)])
    reporting = {"PREFECT_API_URL": api_url} if api_url else {}
    return kept | {"PYTHONPATH": paths, "OUTBOUND_NOTES": str(notes)} | reporting | given


def called(*arguments: str, env: dict[str, str]) -> "subprocess.CompletedProcess[str]":
    """Call the command line and wait for it."""
    return subprocess.run(
        [sys.executable, "-c", MAIN, *arguments], env=env, capture_output=True, text=True, timeout=100, check=False
    )


def started(*arguments: str, env: dict[str, str], log: Path) -> "subprocess.Popen[bytes]":
    """Call the command line and leave it running, in a process group of its own as under a terminal."""
    with log.open("wb") as out:
        return subprocess.Popen(
            [sys.executable, "-c", MAIN, *arguments], env=env, stdout=out, stderr=out, start_new_session=True
        )


def asked(api_url: str, what: str, **body: Any) -> list[dict[str, Any]]:
    """Ask the API for runs."""
    request = urllib.request.Request(  # noqa: S310 - our own server
        f"{api_url}/{what}/filter", data=json.dumps(body).encode(), headers={"Content-Type": "application/json"}
    )
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    with opener.open(request, timeout=20) as answer:
        found: list[dict[str, Any]] = json.load(answer)
    return found


def runs(api_url: str, folder: Path, *states: str) -> list[dict[str, Any]]:
    """Return the flow runs over a workspace that are in one of the states, oldest first."""
    found = asked(api_url, "flow_runs", sort="EXPECTED_START_TIME_ASC")
    return [run for run in found if run["parameters"]["workspace"] == str(folder) and run["state_type"] in states]


def tasks(api_url: str, run: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the tasks of a flow run."""
    return asked(api_url, "task_runs", flow_runs={"id": {"any_": [run["id"]]}})


def until(true: Callable[[], Any], seconds: float, what: str) -> Any:
    """Wait until something holds and return it; fail when it does not within the time."""
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        if found := true():
            return found
        time.sleep(0.2)
    raise AssertionError(f"not within {seconds} s: {what}")


def descendants(pid: int) -> set[int]:
    """Return the processes that a process has started, and those they have started."""
    listed = subprocess.run(["ps", "-axo", "pid=,ppid="], capture_output=True, text=True, check=True).stdout
    parents = dict(tuple(map(int, line.split())) for line in listed.splitlines())
    found: set[int] = set()
    while more := {child for child, parent in parents.items() if parent in found | {pid}} - found:
        found |= more
    return found


def alive(pids: set[int]) -> set[int]:
    """Return those of the processes that still run."""
    return {pid for pid in pids if _runs(pid)}


def _runs(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True
