"""`serve`: takes what has settled and nothing else, records its passes, and goes without leaving anything behind."""

import hashlib
import os
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from pipeline import intake, server
from pipeline.workspace import Workspace
from tests.orchestration.children import alive, called, descendants, environment, runs, started, until
from tests.support import drop, exports

SETTLE = 2
STOP_WITHIN = 12
posix = pytest.mark.skipif(os.name == "nt", reason="process groups and ps")


def hurried(lab: Workspace) -> None:
    (lab.root / "mixledger.toml").write_text(f"[intake]\nsettle_seconds = {SETTLE}\n")


def arrived(lab: Workspace, name: str) -> list[intake.Arrival]:
    return [each for each in intake.journal(lab) if each.name == name]


@contextmanager
def serving(lab: Workspace, log: Path, env: dict[str, str], *more: str) -> Iterator["subprocess.Popen[bytes]"]:
    child = started("-w", str(lab.root), "serve", *more, env=env, log=log)
    try:
        until(lambda: "run history:" in log.read_text() or child.poll() is not None, 90, "serve comes up")
        assert child.poll() is None, log.read_text()
        yield child
    finally:
        if child.poll() is None:
            child.kill()
            child.wait()


def written_slowly(path: Path, whole: bytes, finish: threading.Event) -> threading.Thread:
    """Write a file byte by byte, faster than it could settle, and its rest once told to finish."""

    def write() -> None:
        with path.open("wb", buffering=0) as out:
            at = 0
            while not finish.wait(SETTLE / 8) and at < len(whole) - 1:
                out.write(whole[at : at + 1])
                at += 1
            out.write(whole[at:])

    writing = threading.Thread(target=write, daemon=True)
    writing.start()
    return writing


def ends(child: "subprocess.Popen[bytes]", log: Path) -> None:
    """Check a clean end: exit 0 in time, no traceback, no process left."""
    assert child.wait(STOP_WITHIN) == 0, log.read_text()
    assert "Traceback" not in log.read_text()
    assert log.read_text().rstrip().endswith("stopped")


@posix
@pytest.mark.orchestrated
def test_takes_what_has_settled_and_leaves_what_is_being_written(lab: Workspace, notes: Path, tmp_path: Path) -> None:
    hurried(lab)
    log = tmp_path / "serve.log"
    with serving(lab, log, environment(notes)) as child:
        api_url = log.read_text().split("run history: ")[1].split("/runs")[0] + "/api"
        until(lambda: runs(api_url, lab.root, "COMPLETED"), 40, "the pass at the start")

        card, other = exports("mix_card/*")[:2]
        finish = threading.Event()
        writing = written_slowly(lab.inbox / "growing.toml", card.read_bytes(), finish)
        (lab.inbox / "still.toml").write_bytes(other.read_bytes())
        until(lambda: arrived(lab, "still.toml"), 40, "the settled neighbour is taken")
        assert writing.is_alive(), "the neighbour came too late to show anything"
        assert not arrived(lab, "growing.toml"), "taken while it was being written"

        finish.set()
        writing.join()
        (taken,) = until(lambda: arrived(lab, "growing.toml"), 40, "the file is taken once it has settled")
        assert taken.hash == hashlib.sha256(card.read_bytes()).hexdigest()

        finished = until(lambda: len(runs(api_url, lab.root, "COMPLETED")) >= 3, 20, "three passes are recorded")
        assert finished
        named = [run["name"] for run in runs(api_url, lab.root, "COMPLETED")]
        assert sum("files have settled" in name for name in named) == 2, named
        assert not runs(api_url, lab.root, "FAILED", "CRASHED")

        again = called("-w", str(lab.root), "serve", env=environment(notes))
        assert again.returncode == 2
        assert "served already" in again.stderr

        family = descendants(child.pid)
        assert family, "the server is a child"
        child.send_signal(signal.SIGTERM)
        ends(child, log)
        assert until(lambda: not alive(family), 2, "no process is left")
        assert server.port_is_free(int(api_url.split(":")[2].split("/")[0]))


@posix
@pytest.mark.orchestrated
def test_runs_at_the_interval_and_ends_with_ctrl_c(lab: Workspace, notes: Path, tmp_path: Path, api_url: str) -> None:
    """Against a configured server; Ctrl-C reaches the whole process group."""
    log = tmp_path / "serve.log"
    with serving(lab, log, environment(notes, api_url), "--interval", "10") as child:
        until(
            lambda: [run for run in runs(api_url, lab.root, "COMPLETED") if ", interval," in run["name"]],
            40,
            "a pass at the interval",
        )
        family = descendants(child.pid)
        os.killpg(child.pid, signal.SIGINT)
        ends(child, log)
        assert until(lambda: not alive(family), 2, "no process is left")
    assert called("-w", str(lab.root), "run", env=environment(notes, api_url)).returncode == 0, "the server stays"


@posix
@pytest.mark.orchestrated
def test_a_server_of_ours_does_not_outlive_a_killed_parent(lab: Workspace, notes: Path, tmp_path: Path) -> None:
    code = (
        "import sys, time; from pathlib import Path; from pipeline import server; from pipeline.workspace import find\n"
        "lab = find(Path(sys.argv[1]))\n"
        "with server.standing(lab, temporary=True) as s: print(s.child.pid, flush=True); time.sleep(60)"
    )
    parent = subprocess.Popen(
        [sys.executable, "-c", code, str(lab.root)], env=environment(notes), stdout=subprocess.PIPE, text=True
    )
    assert parent.stdout is not None
    pid = int(parent.stdout.readline())
    assert alive({pid})
    parent.kill()
    parent.wait()
    until(lambda: not alive({pid}), 15, "the server ends by itself")


def test_a_port_in_use_is_said(lab: Workspace, notes: Path) -> None:
    with socket.socket() as taken:
        taken.bind((server.HOST, 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        done = called("-w", str(lab.root), "serve", "--port", port, env=environment(notes))
    assert done.returncode == 2
    assert f"Port {port}" in done.stderr
    assert "--port" in done.stderr


@pytest.mark.parametrize("command", [("run",), ("serve",)])
def test_a_configured_server_that_is_away_is_said(lab: Workspace, notes: Path, command: tuple[str, ...]) -> None:
    url = f"http://{server.HOST}:{server.any_port()}/api"
    done = called("-w", str(lab.root), *command, env=environment(notes, url))
    assert done.returncode == 2
    assert url in done.stderr
    assert "PREFECT_API_URL" in done.stderr


def test_a_server_that_does_not_come_up_is_said(lab: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, value in os.environ.items():  # put back afterwards what `standing` sets
        monkeypatch.setenv(name, value)
    monkeypatch.delenv("PREFECT_API_URL", raising=False)
    monkeypatch.setattr(server, "START_SECONDS", 0.0)
    with pytest.raises(server.ServeError, match="did not come up"), server.standing(lab, server.any_port()):
        pass
    with pytest.raises(server.ServeError, match="did not come up"), server.standing(lab, server.any_port()):
        pass  # not "served already": the first attempt has left no lock


def test_what_has_not_settled_is_no_business_of_a_plain_run(lab: Workspace, notes: Path) -> None:
    drop(lab, exports("mix_card/*")[:1])
    done = called("-w", str(lab.root), "run", "--no-pages", env=environment(notes))
    assert "1 exports" in done.stdout, done.stderr
