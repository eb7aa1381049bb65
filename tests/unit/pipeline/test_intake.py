"""Bytes under their hash, a journal that survives a crash, and files that are still changing."""

import hashlib
import json
from pathlib import Path

import pytest

from pipeline import intake
from pipeline.workspace import Workspace


def take(lab: Workspace) -> tuple[list[intake.Arrival], list[str]]:
    return intake.take_in(lab, intake.journal(lab))


def test_an_arrival_is_kept_and_noted(lab: Workspace) -> None:
    (lab.inbox / "a").mkdir()
    (lab.inbox / "a" / "b.csv").write_bytes(b"1;2")
    arrivals, problems = take(lab)
    assert not problems
    assert [(each.name, each.hash) for each in arrivals] == [("a/b.csv", hashlib.sha256(b"1;2").hexdigest())]
    assert lab.kept_file(arrivals[0].hash).read_bytes() == b"1;2"
    assert intake.journal(lab) == arrivals
    assert take(lab) == ([], [])


def test_a_file_written_over_is_a_new_arrival_and_the_old_bytes_stay(lab: Workspace) -> None:
    path = lab.inbox / "b.csv"
    path.write_bytes(b"one")
    take(lab)
    path.write_bytes(b"other")
    arrivals, _ = take(lab)
    assert [each.size for each in arrivals] == [5]
    assert {lab.kept_file(each.hash).read_bytes() for each in intake.journal(lab)} == {b"one", b"other"}


def test_a_file_that_changes_while_it_is_read_waits(lab: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    path = lab.inbox / "b.csv"
    path.write_bytes(b"begun")
    seen = list(intake.sightings(lab.inbox))
    path.write_bytes(b"begun and gone on")
    monkeypatch.setattr(intake, "sightings", lambda _: iter(seen))
    arrivals, problems = take(lab)
    assert not arrivals
    assert problems == ["b.csv: changed while it was read; the next run takes it."]
    assert not list(lab.kept.glob("??/*"))
    assert not [path for path in lab.kept.iterdir() if path.name != "journal.jsonl"]


def test_a_torn_journal_line_is_closed_before_the_next(lab: Workspace) -> None:
    (lab.inbox / "a.csv").write_bytes(b"a")
    take(lab)
    with lab.journal.open("ab") as out:
        out.write(b'{"name": "torn')
    (lab.inbox / "b.csv").write_bytes(b"b")
    take(lab)
    assert [each.name for each in intake.journal(lab)] == ["a.csv", "b.csv"]
    assert json.loads(lab.journal.read_bytes().splitlines()[-1])["name"] == "b.csv"


def test_only_the_files_asked_for_are_taken(lab: Workspace) -> None:
    for name in ("settled.csv", "growing.csv"):
        (lab.inbox / name).write_text(name)
    settled = [each for each in intake.sightings(lab.inbox) if each.name == "settled.csv"]
    arrivals, _ = intake.take_in(lab, [], settled)
    assert [each.name for each in arrivals] == ["settled.csv"]


@pytest.mark.parametrize(
    "name", ["naïve ±0,1 °C.csv", "'; drop table weighing; --.csv", "<img src=x onerror=alert(1)>.csv"]
)
def test_hostile_names_are_only_names(lab: Workspace, name: str) -> None:
    try:
        (lab.inbox / name).write_text("x")
    except OSError:
        pytest.skip("this file system does not take the name")
    arrivals, _ = take(lab)
    assert [each.name for each in arrivals] == [name]
    assert {path.parent.parent for path in lab.kept.glob("??/*")} == {lab.kept}


def test_large_files_are_hashed_in_pieces(lab: Workspace) -> None:
    content = bytes(range(256)) * (3 * 4096)
    (lab.inbox / "big.bin").write_bytes(content)
    arrivals, _ = take(lab)
    assert arrivals[0].hash == hashlib.sha256(content).hexdigest()
    assert Path(lab.kept_file(arrivals[0].hash)).stat().st_size == len(content)
