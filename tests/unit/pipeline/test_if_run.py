"""What a check foresees is what a run then derives: the same figures, flags and reasons."""

import json
from pathlib import Path

import polars as pl
import pytest
from click.testing import CliRunner

from pipeline.cli.group import group
from pipeline.if_run import Foreseen, foresee, observed
from pipeline.reading import Incoming, read, recognise
from pipeline.settings import Results
from pipeline.workspace import Workspace
from plugins.api import Export
from plugins.manager import load
from tests.support import EXPORTS, drop, exports, run
from warehouse.read import connect
from warehouse.sql import fetch

FIGURE = ["sample_id", "level", "method", "specimen_no", "property", "point"]
SAID = [*FIGURE, "value", "withheld", "flags"]


def frames_of(paths: list[Path]) -> dict[str, pl.DataFrame]:
    incoming = [Incoming(Export.from_path(path), (path.name,), "1970-01-01T00:00:00.000000") for path in paths]
    batches, _ = recognise(incoming, load().importers, 1 << 30)
    parts: dict[str, list[pl.DataFrame]] = {}
    for batch in batches:
        for record, frame in read(batch).frames.items():
            parts.setdefault(record, []).append(frame)
    return {record: pl.concat(found) for record, found in parts.items()}


def stored(lab: Workspace, samples: pl.DataFrame) -> pl.DataFrame:
    with connect(lab.root) as connection:
        found = fetch(connection, f"SELECT {', '.join(SAID)} FROM property_value WHERE valid_to_run IS NULL")
    return found.join(samples, on="sample_id", how="semi").sort(FIGURE, nulls_last=True)


def said(foreseen: Foreseen) -> pl.DataFrame:
    return foreseen.figures.select(SAID).sort(FIGURE, nulls_last=True)


def test_all_exports_of_the_demo_foretell_the_warehouse_they_make(demo: Workspace, tmp_path: Path) -> None:
    frames = frames_of(exports("**/*"))
    foreseen = foresee(frames, tmp_path, Results())
    known = said(foreseen).filter(~pl.col("sample_id").is_in(foreseen.strangers))
    expected = stored(demo, observed(frames))
    assert expected.height > 5_000 and expected["flags"].count() > 100
    assert known.equals(expected)


def test_a_file_foretells_what_its_run_changes(lab: Workspace) -> None:
    """The press record of a sample whose weighings are stored: only what it changes is told."""
    press = exports("press_report/QL-0013-1.txt")
    drop(lab, exports("register_book/*", "mix_card/*", "balance_journal/QL-*"))
    run(lab)
    before = stored(lab, pl.DataFrame({"sample_id": ["QL-0013"]}))
    foreseen = foresee(frames_of(press), lab.root, Results())
    assert not foreseen.strangers and "register of the workspace" in foreseen.register
    drop(lab, press)
    run(lab)
    after = stored(lab, pl.DataFrame({"sample_id": ["QL-0013"]}))
    changed = after.join(before, on=SAID, how="anti", nulls_equal=True)
    assert changed.height > 0 and said(foreseen).equals(changed.sort(FIGURE, nulls_last=True))
    again = foresee(frames_of(press), lab.root, Results())
    assert said(again).equals(said(foreseen))  # an export already stored is held against a store without it


def test_a_sample_in_no_register_keeps_its_own_figures_and_is_told_what_lacks(tmp_path: Path) -> None:
    track = EXPORTS / "track_table" / "QL-0001.tsv"
    foreseen = foresee(frames_of([track]), tmp_path, Results())
    assert foreseen.strangers == ("QL-0001",)
    figures = foreseen.figures.filter(pl.col("value").is_not_null())
    assert "rut_depth" in set(figures["property"])
    weighed = foresee(frames_of(exports("balance_journal/HB-1-20260414.csv")), tmp_path, Results()).withheld
    lacks = dict(weighed.select("why", "not derived").rows())
    assert lacks["Gsb missing"] == "vfa, vma"
    assert "core_gmb" in lacks["the material of the sample missing: it stands in the register"]


@pytest.mark.parametrize("inside", [True, False])
def test_the_command_tells_flags_in_words_and_writes_nothing(
    demo: Workspace, inside: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    folder = demo.root if inside else tmp_path
    path = str(EXPORTS / "track_table" / "QL-0001.tsv")
    before = {one: one.stat().st_mtime_ns for one in folder.rglob("*")}
    told = CliRunner().invoke(group, ["-w", str(folder), "check", path], catch_exceptions=False)
    assert told.exit_code == 0
    assert "polynomial_doubtful: the first inflection of the polynomial need not be stripping" in told.output
    assert ("in no register: QL-0001" in told.output) is not inside
    done = CliRunner().invoke(group, ["-w", str(folder), "check", path, "--json"], catch_exceptions=False)
    (one,) = json.loads(done.output)
    assert {figure["flags"] for figure in one["figures"]} == {None, "no_stripping", "polynomial_doubtful"}
    assert one["unregistered"] == ([] if inside else ["QL-0001"])
    assert {one: one.stat().st_mtime_ns for one in folder.rglob("*")} == before


def test_a_register_alone_gives_no_figures() -> None:
    told = CliRunner().invoke(group, ["check", str(exports("mix_card/*")[0])], catch_exceptions=False)
    assert "a run would derive" not in told.output
