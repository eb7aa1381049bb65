"""The validation record: verdict, exit code, JSON, page, and what has no published check."""

import json

from click.testing import CliRunner

from pipeline.cli.group import group
from pipeline.formulas import registry
from pipeline.validation import entries, record
from pipeline.validation.page import page

FEW = [entry for entry in entries.load() if entry["file"] in ("cores", "t166")]


def test_the_record_tells_version_platform_and_every_value() -> None:
    made = record.validate(FEW)
    told = json.loads(made.as_json())
    assert told["checks"] == len(told["findings"]) >= len(FEW)
    assert told["failed"] == 0
    assert told["version"] and told["made_at"]
    assert "polars" in told["platform"]
    assert {"source", "place", "expected", "computed", "difference", "tolerance", "why", "verdict", "mark"} <= set(
        told["findings"][0]
    )


def test_formulas_without_a_published_check_are_named() -> None:
    made = record.validate(FEW)
    stated = {f"{each.property.name}/{each.route}" for each in registry.load().formulas}
    assert stated <= {each.name for each in made.coverage}
    unchecked = {each.name for each in made.unchecked}
    # Of the cores' values one is recomputed only: it is no published check.
    assert "core_air_voids/against_lot" in unchecked
    assert {"gmb/surface_dry", "relative_compaction/against_lot"} & unchecked == set()
    recomputed = next(each for each in made.coverage if each.name == "core_air_voids/against_lot")
    assert (recomputed.published, recomputed.unpublished) == (0, 2)


def test_a_value_that_fails_shows_first_and_ends_with_code_1(monkeypatch, tmp_path) -> None:
    wrong = FEW[0] | {"id": "<b>wrong</b>", "published": 90.0}
    monkeypatch.setattr(entries, "load", lambda: (wrong, *FEW))
    done = CliRunner().invoke(group, ["validate", "-o", str(tmp_path / "made")])
    assert done.exit_code == 1
    assert "fail: cores <b>wrong</b>" in done.output
    text = (tmp_path / "made" / "validation.html").read_text()
    assert "Did not pass" in text
    assert "<b>wrong</b>" not in text
    assert json.loads((tmp_path / "made" / "validation.json").read_text())["failed"] == 1


def test_all_pass_with_code_0_and_a_page(monkeypatch, tmp_path) -> None:
    monkeypatch.setattr(entries, "load", lambda: tuple(FEW))
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(group, ["validate"])
    assert done.exit_code == 0
    assert "Did not pass" not in (tmp_path / "validation" / "validation.html").read_text()


def test_a_folder_that_cannot_be_written_is_told(monkeypatch, tmp_path) -> None:
    monkeypatch.setattr(entries, "load", lambda: tuple(FEW[:1]))
    (tmp_path / "file").write_text("")
    done = CliRunner().invoke(group, ["validate", "-o", str(tmp_path / "file" / "below")])
    assert done.exit_code == 2
    assert "cannot be written" in done.output


def test_the_page_asks_the_network_for_nothing() -> None:
    text = page(record.validate(FEW)).decode()
    assert '<link rel="stylesheet"' not in text
    assert "<script" not in text
    assert "src=" not in text
