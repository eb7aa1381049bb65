"""Commands that write wait for another writer, a process of its own, as long as they are told; and say for whom."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline.cli.exit_codes import BUSY
from pipeline.cli.group import group
from pipeline.workspace import Workspace
from tests.support import ROOT

HOLD = """
import sys
from pathlib import Path
from warehouse.lock import writer
with writer(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.readline()
"""


@contextmanager
def held(lab: Workspace) -> "Iterator[subprocess.Popen[str]]":
    """Let another process hold the store, until it is sent a line; gives the process."""
    command = [sys.executable, "-c", HOLD, str(lab.store)]
    other = subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    try:
        assert other.stdout is not None and other.stdout.readline() == "held\n"
        yield other
    finally:
        other.kill()
        other.communicate()


def script(lab: Workspace, *given: str) -> list[str]:
    return [str(Path(sys.executable).with_name("mixledger")), "-w", str(lab.root), *given]


def mixledger(lab: Workspace, *given: str) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(script(lab, *given), capture_output=True, text=True, check=False)


@pytest.mark.parametrize("command", [("run", "--quiet"), ("rebuild", "--quiet"), ("upgrade",)])
def test_a_command_waits_for_the_other_writer(lab: Workspace, command: tuple[str, ...]) -> None:
    with held(lab) as other:
        at_once = mixledger(lab, *command)
        waiting = subprocess.Popen(script(lab, *command, "--wait", "60"), stderr=subprocess.PIPE, text=True)
        assert waiting.stderr is not None and other.stdin is not None
        said = waiting.stderr.readline()
        print(file=other.stdin, flush=True)  # only now, however slow the machine, does the other let go
        said += waiting.communicate()[1]
    assert at_once.returncode == BUSY and f"process {other.pid} on" in at_once.stderr
    assert waiting.returncode == 0, said
    assert f"process {other.pid} on" in said and "Waiting up to 60 s." in said


def test_a_command_gives_up_when_the_wait_is_over(lab: Workspace) -> None:
    with held(lab) as other:
        done = mixledger(lab, "run", "--quiet", "--wait", "0.3")
    assert done.returncode == BUSY and f"process {other.pid} on" in done.stderr


def test_nobody_is_named_where_nobody_writes(lab: Workspace) -> None:
    done = CliRunner().invoke(group, ["-w", str(lab.root), "run", "--quiet", "--wait", "5"], catch_exceptions=False)
    assert done.exit_code == 0 and "Waiting" not in done.stderr


@pytest.mark.parametrize("given", ["-1", "soon", "1e9"])
def test_a_wait_that_is_none_is_refused(lab: Workspace, given: str) -> None:
    done = CliRunner().invoke(group, ["-w", str(lab.root), "run", "--wait", given])
    assert done.exit_code == 2 and "--wait" in done.stderr
