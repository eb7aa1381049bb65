"""Recognition and reading by the batch: a bad file, or a bad plugin, hurts only itself."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from pipeline import reading
from plugins.api import Export, Reading


@dataclass(frozen=True)
class Scale:
    """An importer of a test: one mass per file; it raises where the file says so."""

    name: str = "scale"
    version: str = "1"
    gives: tuple[str, ...] = ("weighing",)
    begins: bytes = b"m"

    def claims(self, export: Export) -> str | None:
        if export.head.startswith(b"look"):
            raise RuntimeError("cannot even look")
        return "begins like one" if export.head.startswith(self.begins) else None

    def read(self, exports: Sequence[Export]) -> Reading:
        if any(b"raise" in export.read() for export in exports):
            raise ZeroDivisionError("division by zero")
        masses = [float(export.read()[1:]) for export in exports]
        hashes = [export.hash for export in exports]
        frame = pl.DataFrame({"export_hash": hashes, "source_line": 1, "mass_g": masses})
        fixed = {"sample_id": "S", "specimen_no": "1", "method": "t166", "role": "dry"}
        return Reading({"weighing": frame.with_columns(**{key: pl.lit(value) for key, value in fixed.items()})})


def incoming(folder: Path, **files: bytes) -> list[reading.Incoming]:
    found = []
    for name, content in files.items():
        path = folder / name
        path.write_bytes(content)
        found.append(
            reading.Incoming(Export(name, name, path, len(content), content[:64]), (name,), "2026-01-01T00:00:00")
        )
    return found


def codes(read: reading.Read) -> dict[str, str]:
    return dict(read.refusals.select("export_hash", "code").iter_rows())


def test_every_file_finds_its_importer_or_its_reason(tmp_path: Path) -> None:
    files = incoming(tmp_path, good=b"m1", none=b"?", void=b"", both=b"mm", big=b"m" + b"1" * 50, crash=b"look")
    importers = (Scale(), Scale(name="other", begins=b"mm"))
    batches, refused = reading.recognise(files, importers, largest_bytes=40)
    assert [(batch.importer.name, [each.export.name for each in batch.incoming]) for batch in batches] == [
        ("scale", ["good"])
    ]
    assert codes(refused) == {
        "none": "unknown_kind",
        "void": "empty",
        "both": "two_importers",
        "big": "too_large",
        "crash": "importer_failed",
    }
    said = dict(refused.refusals.select("code", "reason").iter_rows())
    assert "scale: begins like one; other: begins like one" in said["two_importers"]
    assert "scale failed while looking at it: RuntimeError: cannot even look" in said["importer_failed"]
    assert refused.refusals["remedy"].str.len_chars().min() > 10


def test_a_crashing_importer_costs_only_the_file_it_crashes_on(tmp_path: Path) -> None:
    files = incoming(tmp_path, one=b"m1.5", bad=b"m raise", two=b"m2.5")
    read = reading.read(reading.Batch(Scale(), tuple(files)))
    assert sorted(read.frames["weighing"]["mass_g"]) == [1.5, 2.5]
    (row,) = read.refusals.to_dicts()
    assert (row["export_hash"], row["code"]) == ("bad", "importer_failed")
    assert row["reason"] == "importer 'scale' failed: ZeroDivisionError: division by zero"
    states = dict(read.exports.select("export_hash", "state").iter_rows())
    assert states == {"one": "read", "bad": "refused", "two": "read"}


def test_an_impossible_value_is_refused_by_the_schema_and_the_rest_goes_in(tmp_path: Path) -> None:
    read = reading.read(reading.Batch(Scale(), tuple(incoming(tmp_path, good=b"m4712.3", bad=b"m-3"))))
    assert read.frames["weighing"]["mass_g"].to_list() == [4712.3]
    (row,) = read.refusals.to_dicts()
    assert (row["stage"], row["code"], row["column_name"], row["found"]) == ("validate", "not_valid", "mass_g", "-3.0")
    assert row["reason"] == "'mass_g' is -3.0; expected at least 0 and at most 100000 g"


def test_batches_are_bounded_by_their_bytes(tmp_path: Path) -> None:
    files = incoming(tmp_path, **{f"f{number}": b"m1" * 10 for number in range(6)})
    parts = list(reading._parts(files, 45))
    assert [len(part) for part in parts] == [2, 2, 2]


def test_a_duplicate_is_told_once_per_further_name(tmp_path: Path) -> None:
    (one,) = incoming(tmp_path, one=b"m1")
    several = reading.Incoming(one.export, ("one", "one (2)", "one (3)"), one.received_at)
    told = reading.duplicates([several])
    assert told["found"].to_list() == ["one (2)", "one (3)"]
    assert told["reason"][0] == "'one (2)' holds the same bytes as 'one'; nothing was counted twice"
