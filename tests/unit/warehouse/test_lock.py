"""The writer's lock: one at a time, the holder is named, a killed one frees it."""

import json
import os
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest

from warehouse.errors import StoreBusyError
from warehouse.lock import LOCK_NAME, NOTE_NAME, holder, writer
from warehouse.store import open_store

ROOT = Path(__file__).parents[3]

HOLD = """
import sys, time
from pathlib import Path
from warehouse.lock import writer
with writer(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


def test_second_writer_is_told_who_holds_it_and_since_when(tmp_path: Path) -> None:
    with writer(tmp_path / "store"), pytest.raises(StoreBusyError) as caught, writer(tmp_path / "store"):
        pass
    pattern = (
        rf"The store is being written by process {os.getpid()} on \S+ since \d{{4}}-\d\d-\d\d \d\d:\d\d:\d\d UTC\."
    )
    assert re.fullmatch(pattern, caught.value.sentence)
    assert caught.value.remedy.startswith("Wait")


def test_lock_is_free_afterwards_even_after_a_fault(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError), writer(tmp_path):
        raise RuntimeError
    assert not (tmp_path / NOTE_NAME).exists()
    with writer(tmp_path):
        assert json.loads((tmp_path / NOTE_NAME).read_text())["pid"] == os.getpid()


def test_killed_holder_frees_the_lock(tmp_path: Path) -> None:
    holder = subprocess.Popen([sys.executable, "-c", HOLD, str(tmp_path)], cwd=ROOT, stdout=subprocess.PIPE, text=True)
    try:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        with pytest.raises(StoreBusyError, match=f"process {holder.pid} on"), writer(tmp_path):
            pass
    finally:
        holder.kill()
        holder.communicate()
    with writer(tmp_path, wait_seconds=5):
        pass


def test_a_waiting_writer_gives_up_in_time(tmp_path: Path) -> None:
    with writer(tmp_path):
        began = time.monotonic()
        with pytest.raises(StoreBusyError), writer(tmp_path, wait_seconds=0.2):
            pass
        assert 0.2 <= time.monotonic() - began < 5


def test_missing_or_torn_note_is_no_hindrance(tmp_path: Path) -> None:
    with writer(tmp_path):
        (tmp_path / NOTE_NAME).write_text('{"pid": ')
        with pytest.raises(StoreBusyError, match="left no note"), writer(tmp_path):
            pass
    assert (tmp_path / LOCK_NAME).name == "lock"


def test_store_open_in_another_process_is_busy(workspace: Path) -> None:
    hold = (
        "import duckdb, sys\n"
        "connection = duckdb.connect(sys.argv[1])\n"
        "print('held', flush=True)\n"
        "sys.stdin.readline()\n"
    )
    path = workspace / "store" / "working.duckdb"
    command = [sys.executable, "-c", hold, str(path)]
    holder = subprocess.Popen(command, stdout=subprocess.PIPE, stdin=subprocess.PIPE, text=True)
    try:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        with pytest.raises(StoreBusyError, match="written by another process"):
            open_store(workspace / "store", workspace / "series")
    finally:
        holder.communicate("\n")
    open_store(workspace / "store", workspace / "series").close()


def test_a_holder_is_named_while_it_holds(tmp_path: Path) -> None:
    assert holder(tmp_path) is None
    with writer(tmp_path):
        assert f"process {os.getpid()} on" in str(holder(tmp_path))
    (tmp_path / NOTE_NAME).write_text('{"pid": 1, "host": "x", "since": "then"}')  # what a killed process leaves
    assert holder(tmp_path) is None
