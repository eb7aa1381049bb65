"""The committed sample exports are what the generator writes, byte for byte, and the troubles are in them."""

import hashlib
from pathlib import Path
from typing import Any

import pytest

from schemas.vocabulary import Stage
from tests.scenario import bulk
from tests.scenario.generate import SEED, generate, write

EXPORTS = Path(__file__).parents[3] / "sample_exports"


def _hashes(files: dict[str, bytes]) -> dict[str, str]:
    return {path: hashlib.sha256(content).hexdigest() for path, content in files.items()}


def _on_disk(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.glob("*/*")
        if path.name != "README.md"  # words about a format may stand beside its examples
    }


def test_regenerating_gives_the_committed_bytes() -> None:
    assert _hashes(generate()) == _hashes(_on_disk(EXPORTS))


def test_another_seed_gives_other_weighings_under_the_same_names() -> None:
    first, second = generate(SEED), generate(SEED + 1)
    assert first.keys() == second.keys()
    journals = [path for path in first if path.startswith("balance_journal/")]
    assert all(first[path] != second[path] for path in journals)


def test_writing_removes_the_files_of_an_earlier_generation(tmp_path: Path) -> None:
    stale = tmp_path / "press_report" / "QL-9999-1.txt"
    stale.parent.mkdir()
    stale.write_text("old")
    assert write(tmp_path) == len(_on_disk(tmp_path))
    assert not stale.exists()


def test_all_exports_together_stay_small() -> None:
    assert sum(len(content) for content in _on_disk(EXPORTS).values()) < 6_000_000


def test_every_trouble_names_an_export_and_a_stage(troubles: list[dict[str, Any]]) -> None:
    assert len({trouble["id"] for trouble in troubles}) == len(troubles)
    for trouble in troubles:
        assert (EXPORTS / trouble["file"]).is_file(), trouble["id"]
        assert trouble["stage"] in {*Stage.values(), "judge", "programme"}, trouble["id"]
        assert trouble["says"], trouble["id"]


def test_the_copy_has_the_same_bytes_and_the_reissues_have_others(troubles: list[dict[str, Any]]) -> None:
    for trouble in (one for one in troubles if "of" in one):
        same = (EXPORTS / trouble["file"]).read_bytes() == (EXPORTS / trouble["of"]).read_bytes()
        assert same == (trouble["kind"] == "copy"), trouble["id"]


def test_the_unreadable_mass_stands_on_the_line_named(troubles: list[dict[str, Any]]) -> None:
    (trouble,) = (one for one in troubles if one["kind"] == "unreadable_mass")
    lines = (EXPORTS / trouble["file"]).read_text(encoding="cp1252").splitlines()
    assert [number for number, line in enumerate(lines, start=1) if "x" in line.split(";")[-2]] == [trouble["line"]]


def test_bulk_writes_the_number_asked_for_and_repeats_itself(tmp_path: Path) -> None:
    bulk.write(tmp_path / "a", 120)
    bulk.write(tmp_path / "b", 120)
    first = _on_disk(tmp_path / "a")
    assert len(first) == 120
    assert first == _on_disk(tmp_path / "b")


def test_bulk_refuses_a_number_too_small_for_register_and_cards(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="ask for at least 17"):
        bulk.write(tmp_path, 3)
    assert list(tmp_path.iterdir()) == []
