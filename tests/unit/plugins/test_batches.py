"""A batch is read as its exports would be one by one, in any order; one bad export hurts no other."""

import random
from pathlib import Path

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from plugins.api import Export, Reading
from plugins.layout import delimited
from tests.unit.plugins.examples import JOURNAL, examples, export, importers


def variants(name: str, folder: Path) -> list[Export]:
    """Return a good export, two others with other labels, a damaged one, an empty one and one of another kind."""
    content = examples()[name]
    labelled = [content.replace(b"HB-0012", f"HB-{number:04}".encode()) for number in (20, 21)]
    broken = [content[: len(content) // 2], b"", b"what is this?\n", b"\xff\xfe\x00", content.replace(b"0.", b"x.")]
    return [export(folder, one, f"{number}") for number, one in enumerate([content, *labelled, *broken])]


def ordered(frame: pl.DataFrame) -> pl.DataFrame:
    return frame.sort(pl.all())


def joined(readings: list[Reading]) -> Reading:
    names = {name for reading in readings for name in reading.frames}
    frames = {
        name: pl.concat([reading.frames[name] for reading in readings if name in reading.frames]) for name in names
    }
    return Reading(frames, pl.concat([reading.refused for reading in readings]))


def same(left: Reading, right: Reading) -> None:
    assert_frame_equal(ordered(left.refused), ordered(right.refused))
    for name in {*left.frames, *right.frames}:
        assert_frame_equal(ordered(left.frames[name]), ordered(right.frames[name]))


@pytest.mark.parametrize("name", sorted(examples()))
def test_batch_equals_one_by_one(name: str, tmp_path: Path) -> None:
    importer = importers()[name]
    exports = variants(name, tmp_path)
    singly = joined([importer.read([one]) for one in exports])
    same(importer.read(exports), singly)
    random.Random(1).shuffle(exports)
    same(importer.read(exports), singly)
    read = {
        one.hash for one in exports if any((frame["export_hash"] == one.hash).any() for frame in singly.frames.values())
    }
    refused = set(singly.refused["export_hash"])
    assert read | refused == {one.hash for one in exports}  # every export ends in rows, in refusals, or in both


@pytest.mark.parametrize("name", sorted(examples()))
def test_the_same_twice_and_the_export_unchanged(name: str, tmp_path: Path) -> None:
    one = export(tmp_path, examples()[name])
    same(importers()[name].read([one]), importers()[name].read([one]))
    assert one.path.read_bytes() == examples()[name]


def test_headings_in_another_order_are_read_by_name(tmp_path: Path) -> None:
    lines = JOURNAL.splitlines()
    swapped = [";".join([*(cells := line.split(";"))[:2], cells[3], cells[2], *cells[4:]]) for line in lines[3:7]]
    other = "\n".join([*lines[:3], *swapped, lines[7], ""])
    exports = [export(tmp_path, JOURNAL, "a"), export(tmp_path, other, "b")]
    frame = importers()["balance_journal"].read(exports).frames["weighing"]
    mine, theirs = (frame.filter(pl.col("export_hash") == one.hash).drop("export_hash") for one in exports)
    assert_frame_equal(mine, theirs)


def test_if_the_joint_reading_fails_each_export_is_read_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = delimited.read

    def failing(layout: object, sources: object, plain: object) -> object:
        hashes = [source.export.name for source in sources]  # type: ignore[attr-defined]
        if "bad" in hashes:
            raise ZeroDivisionError("a fault of the engine")
        return whole(layout, sources, plain)  # type: ignore[arg-type]

    monkeypatch.setattr(delimited, "read", failing)
    exports = [export(tmp_path, JOURNAL, "good"), export(tmp_path, JOURNAL + "\n", "bad")]
    reading = importers()["balance_journal"].read(exports)
    assert reading.frames["weighing"]["export_hash"].unique().to_list() == [exports[0].hash]
    assert reading.refused.select("code", "export_hash").rows() == [("importer_failed", exports[1].hash)]
    assert reading.refused["reason"].to_list() == ["the importer failed: ZeroDivisionError: a fault of the engine"]


def test_nothing_to_read() -> None:
    reading = importers()["balance_journal"].read([])
    assert reading.frames == {} and reading.refused.height == 0


def test_a_file_that_has_gone_is_refused(tmp_path: Path) -> None:
    one = export(tmp_path, JOURNAL)
    one.path.unlink()
    assert importers()["balance_journal"].read([one]).refused["code"].to_list() == ["importer_failed"]
