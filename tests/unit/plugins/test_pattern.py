"""A layout may take part of a cell: the one group of a pattern; a cell that does not match is refused."""

from pathlib import Path

import pytest

from plugins.api import Export
from plugins.manager import load

LAYOUT = """
name = "tags"
version = "1"
title = "Cores with tags"
kind = "delimited"
[recognise]
starts = "tag,"
[tables.cores]
heading = "tag,"
delimiter = ","
[[record]]
record = "core"
table = "cores"
[record.fields]
sample_id = { column = "tag", pattern = "^([^/]+)/" }
specimen_no = { column = "tag", pattern = '%s' }
thickness_mm = { column = "mm", unit = "mm" }
"""


def made(folder: Path, pattern: str) -> tuple[Path, Path]:
    (folder / "importers" / "tags").mkdir(parents=True)
    (folder / "importers" / "tags" / "layout.toml").write_text(LAYOUT % pattern)
    export = folder / "cores.csv"
    export.write_text("tag,mm\nA-1/2,51.0\nA-1,50.5\n")
    return folder / "importers", export


def test_the_group_is_taken_and_what_does_not_match_is_refused(tmp_path: Path) -> None:
    importers, export = made(tmp_path, "/(.+)$")
    reading = load(importers).importer("tags").read([Export.from_path(export)])
    (row,) = reading.frames["core"].select("sample_id", "specimen_no", "thickness_mm", "source_line").rows()
    assert row == ("A-1", "2", 51.0, 2)
    refused = reading.refused.filter(reading.refused["reason"].str.contains("specimen_no")).to_dicts()
    assert [(each["source_line"], each["code"], each["found"]) for each in refused] == [(3, "not_a_word", "A-1")]
    assert (
        refused[0]["reason"] == "column 'tag' (specimen_no) is 'A-1'; expected a text of the pattern /(.+)$ with a text"
    )


@pytest.mark.parametrize(
    ("pattern", "said"),
    [("/.+$", "must have exactly one group in brackets, it has 0"), ("/(.+$", "is not a pattern")],
)
def test_a_wrong_pattern_is_told_with_its_line(tmp_path: Path, pattern: str, said: str) -> None:
    importers, _ = made(tmp_path, pattern)
    (problem,) = load(importers).problems
    assert said in problem
    assert "tags/layout.toml, line 16" in problem
