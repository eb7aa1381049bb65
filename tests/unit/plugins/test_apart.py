"""A plugin in code that crashes, hangs, lies or reaches out costs only the file it does it on."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline import reading
from plugins import manager
from plugins.apart.host import ApartImporter
from plugins.api import Importer
from tests import packages
from tests.unit.pipeline.test_reading import Scale, codes, incoming

FINE = {"a": b"m1.5", "b": b"m2.5"}


@pytest.fixture(scope="module")
def apart(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ApartImporter]:
    """Give an importer in a process of its own; the process is shared, and started anew after it has died."""
    folder = tmp_path_factory.mktemp("site")
    packages.lay_out(folder, "apart", packages.importer("apart"))
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(folder)
        found = manager.load(trusted=["apart"]).importer("apart")
        assert isinstance(found, ApartImporter)
        yield found


def read_with(importer: Importer, folder: Path, content: bytes) -> tuple[list[float], str]:
    """Read two good files and a bad one; return the masses and why the bad one was refused."""
    read = reading.read(reading.Batch(importer, tuple(incoming(folder, **FINE, bad=content))))
    (row,) = read.refusals.to_dicts()
    assert (row["export_hash"], row["code"]) == ("bad", "importer_failed")
    assert "Traceback" not in row["reason"] and "\n" not in row["reason"]
    return sorted(read.frames["weighing"]["mass_g"]), row["reason"].removeprefix("importer 'apart' failed: ")


PURE = "; a plugin may only read what it is handed"


@pytest.mark.parametrize(
    ("deed", "said"),
    [
        ("1 / 0", "ZeroDivisionError: division by zero (deed.py, line 1)"),
        ("import sys; sys.exit(1)", "SystemExit: 1 (deed.py, line 1)"),
        ("answer = None", "TypeError: read gave back NoneType; it must give a Reading"),
        ("import socket; socket.create_connection(('127.0.0.1', 9))", "it tried to look up a network address" + PURE),
        ("import subprocess; subprocess.run(['true'])", "it tried to start a process" + PURE),
        ("open('stolen', 'w')", "it tried to write the file stolen" + PURE),
        ("import os; os.remove(one.path)", "it tried to remove a file" + PURE),
        ("import os; os.write(1, b'x' * 9999); 1 / 0", "ZeroDivisionError: division by zero (deed.py, line 1)"),
        ("import os; os.kill(os.getpid(), 9)", "its process crashed (signal 9)"),
    ],
)
def test_a_bad_deed_costs_only_its_file(deed: str, said: str, apart: ApartImporter, tmp_path: Path) -> None:
    masses, reason = read_with(apart, tmp_path, b"m do:" + deed.encode())
    assert masses == [1.5, 2.5]
    assert said in reason


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        ("Reading({'weighing': pl.DataFrame({'export_hash': ['else'], 'source_line': [1]})})", "not handed in (else)"),
        ("Reading({'weigh': pl.DataFrame()})", "it handed in 'weigh', which it does not name in `gives` (weighing)"),
        ("Reading({'weighing': pl.DataFrame({'mass_g': [1]})})", "lack the column 'export_hash'"),
        ("Reading({}, pl.DataFrame({'code': ['empty']}))", "the refusals are not a frame made by `refusals(...)`"),
        (
            "Reading({}, refusals([dict(code='empty', export_hash=one.hash, reason=' ')]))",
            "a refusal gives no reason",
        ),
    ],
)
def test_what_it_may_not_hand_back_is_refused(answer: str, said: str, apart: ApartImporter, tmp_path: Path) -> None:
    masses, reason = read_with(apart, tmp_path, b"m do:answer = " + answer.encode())
    assert masses == [1.5, 2.5]
    assert said in reason


def test_what_it_prints_disturbs_nothing(apart: ApartImporter, tmp_path: Path) -> None:
    deed = b"m do:print('hello' * 1000); import sys; sys.stdin.read(); answer = Reading({})"
    read = reading.read(reading.Batch(apart, tuple(incoming(tmp_path, a=deed))))
    assert read.refusals.height == 0


def test_a_file_that_makes_it_hang_is_refused_in_time(apart: ApartImporter, tmp_path: Path) -> None:
    apart.process.limit = 1
    try:
        masses, reason = read_with(apart, tmp_path, b"m do:while True: pass")
    finally:
        apart.process.limit = 30
    assert masses == [1.5, 2.5]
    assert reason == "it took longer than 1 s and was stopped"


def test_one_that_dies_on_every_file_is_left_out_after_three(apart: ApartImporter, tmp_path: Path) -> None:
    assert apart.claims(incoming(tmp_path, a=b"m1")[0].export)
    files = incoming(tmp_path, **{f"n{number}": b"m look:import os; os._exit(1)" for number in range(5)})
    _, refused = reading.recognise(files, [apart], 100)
    reasons = refused.refusals["reason"].to_list()
    assert ["left out for the rest of this run" in reason for reason in reasons] == [False] * 3 + [True] * 2
    assert set(codes(refused).values()) == {"importer_failed"}


def test_of_two_claimants_the_preferred_one_reads(tmp_path: Path) -> None:
    files = incoming(tmp_path, a=b"m1")
    importers = (Scale(), Scale(name="other"))
    for prefer, reader in (
        ((), None),
        (("third",), None),
        (("other",), "other"),
        (("third", "scale", "other"), "scale"),
    ):
        batches, refused = reading.recognise(files, importers, 100, prefer)
        assert [batch.importer.name for batch in batches] == ([reader] if reader else [])
        assert list(codes(refused).values()) == ([] if reader else ["two_importers"])
