"""The lines rows were read from are found in text of any width, and not sought in what is no text."""

import polars as pl
import pytest

from pipeline.raw_lines import raw_lines
from pipeline.workspace import Workspace


@pytest.mark.parametrize(
    ("content", "found"),
    [
        ("a\nLöss 4,5\n".encode(), ["Löss 4,5"]),
        ("a\nLöss 4,5\n".encode("cp1252"), ["Löss 4,5"]),
        ("a\r\nLöss 4,5\r\n".encode("utf-16"), ["Löss 4,5"]),
        ("Zeile eins\nLöss 4,5\n".encode("utf-16-le"), ["Löss 4,5"]),
        (b"SQLite format 3\x00\nbytes", []),
        (b"PK\x03\x04\nbytes", []),
    ],
)
def test_lines_of_kept_exports(content: bytes, found: list[str], lab: Workspace) -> None:
    kept = lab.kept_file("ab" * 32)
    kept.parent.mkdir(parents=True, exist_ok=True)
    kept.write_bytes(content)
    lines = raw_lines(lab, pl.DataFrame({"export_hash": ["ab" * 32], "source_line": [2]}))
    assert lines["raw_line"].to_list() == found


def test_a_kept_file_that_is_gone_is_told_in_place_of_its_lines(lab: Workspace) -> None:
    kept = lab.kept_file("ab" * 32)
    kept.parent.mkdir(parents=True, exist_ok=True)
    kept.write_text("a\nb\n")
    (there,) = raw_lines(lab, pl.DataFrame({"export_hash": ["ab" * 32], "source_line": [2]}))["raw_line"]
    kept.unlink()
    (gone,) = raw_lines(lab, pl.DataFrame({"export_hash": ["ab" * 32], "source_line": [2]}))["raw_line"]
    assert there == "b"
    assert "ab" * 32 in gone and "No such file" in gone and "restore" in gone
