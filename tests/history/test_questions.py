"""The twenty questions, asked of the demo: each answer is that of a second way, in polars from the tables alone."""

import json
import re

import polars as pl
import pytest
from click.testing import CliRunner

from pipeline.cli.group import group
from pipeline.formulas import registry
from pipeline.workspace import Workspace
from tests.history.expected import EXPECTED, Tables, by
from tests.support import ROOT
from warehouse import questions
from warehouse.read import connect
from warehouse.read import query as ask
from warehouse.view import FOLDER

#: Question -> columns of its answer that stand in the order of the expected rows.
COLUMNS = {
    "voids_moved": ("plant", "year", "mix_id", "moved_pct"),
    "vma_collapse": ("mix_id", "revision", "difference_pct", "production_samples"),
    "startup_against_verification": ("mix_id", "property", "difference"),
    "binder_off_target": ("sample_id", "difference_pct"),
    "gradation_drift": ("mix_id", "revision", "sieve_mm", "samples", "mean_difference_pct"),
    "dust_high": ("sample_id", "dust_proportion"),
    "density_of_lots": (
        "mix_id", "lot", "cores", "compaction_mean_pct", "compaction_deviation_pct", "compaction_least_pct",
    ),
    "density_by_lift_thickness": ("thickness_over_nmas", "cores", "compaction_mean_pct", "air_voids_mean_pct"),
    "rutted_or_stripped": ("sample_id", "rut_depth_mm", "sip_passes"),
    "wheels_apart": ("sample_id", "left_mm", "right_mm", "difference_mm"),
    "rutting_by_binder": ("binder_grade", "recycled_pct", "wheels", "rut_depth_mean_mm", "rut_depth_greatest_mm"),
    "gmm_through_season": ("mix_id", "month", "samples", "gmm", "change"),
    "laboratories_repeat": ("property", "laboratory_id", "samples", "specimens", "repeatability"),
    "compactors_drift": ("instrument_id", "quarter", "specimens", "mean_off_mix"),
    "out_of_calibration": ("instrument_id", "sample_id", "specimens", "first_day"),
    "turn_round": ("laboratory_id", "phase", "samples", "median_days", "longest_days"),
    "missing_results": ("sample_id", "property", "point", "reason"),
    "failing_share": ("project_id", "property", "judged", "failed"),
    "corrected_readings": ("sample_id", "specimen_no", "role", "mass_before_g", "mass_after_g", "corrected_by"),
    "doubtful_results": ("laboratory_id", "flag", "figures", "samples"),
}  # fmt: skip


@pytest.fixture(scope="module")
def tables(demo: Workspace) -> Tables:
    with connect(demo.root) as connection:
        return Tables(connection)


def test_there_are_twenty_questions_in_words() -> None:
    found = questions.shipped()
    assert len(found) == 20
    assert {each.name for each in found} == EXPECTED.keys() == COLUMNS.keys()
    for each in found:
        assert each.words.endswith("?")
        assert len(each.query.splitlines()) <= 12, f"{each.name} is not short"


@pytest.mark.parametrize("name", sorted(COLUMNS))
def test_the_answer_is_that_of_another_way(demo: Workspace, tables: Tables, name: str) -> None:
    question = questions.named(name)
    assert question is not None
    with connect(demo.root) as connection:
        found = by(ask(connection, question.query, None, 30), *COLUMNS[name])
    wanted = EXPECTED[name](tables)
    assert wanted, "a question nothing answers tests nothing"
    assert len(found) == len(wanted)
    for one, other in zip(found, wanted, strict=True):
        for mine, theirs in zip(one, other, strict=True):
            assert mine == (pytest.approx(theirs, rel=1e-9, abs=1e-9) if isinstance(theirs, float) else theirs)


def test_answers_that_the_scenario_gives(demo: Workspace) -> None:
    """What the generator put into the season comes out: stripping mixes, swapped compactor, corrected mass."""

    def rows(name: str) -> list[dict[str, object]]:
        done = CliRunner().invoke(group, ["-w", str(demo.root), "sql", name, "--json"], catch_exceptions=False)
        return json.loads(done.stdout)

    assert {row["mix_id"] for row in rows("rutted_or_stripped")} == {"SEDGE-S9", "EBBER-B12"}
    assert {row["instrument_id"] for row in rows("out_of_calibration")} == {"TW-GP3"}
    (corrected,) = rows("corrected_readings")
    assert corrected["mass_after_g"] - corrected["mass_before_g"] == pytest.approx(15.0)
    assert "TW-0009" in {row["sample_id"] for row in rows("missing_results")}


def test_the_guide_lists_every_question() -> None:
    guide = (ROOT / "README.md").read_text(encoding="utf-8")
    for each in questions.shipped():
        assert each.words in guide, each.name
        assert f"`{each.name}`" in guide


def test_questions_and_views_name_properties_that_exist() -> None:
    known = registry.load().properties()["property"].to_list()
    texts = [each.query for each in questions.shipped()] + [path.read_text() for path in FOLDER.glob("*/*.sql")]
    named = {name for text in texts for name in re.findall(r"property (?:=|IN) \(?'(\w+)'", text)}
    assert len(named) > 15
    assert named <= set(known)


def test_questions_are_listed_shown_and_written(demo: Workspace, folder) -> None:
    def call(*given: str) -> str:
        return CliRunner().invoke(group, ["-w", str(demo.root), "sql", *given], catch_exceptions=False).stdout

    assert all(each.name in call("--list") for each in questions.shipped())
    assert call("dust_high", "--show").strip() == next(q.query for q in questions.shipped() if q.name == "dust_high")
    csv = call("binder_off_target", "--csv")
    for suffix in (".csv", ".json", ".parquet"):
        call("binder_off_target", "-o", str(folder / f"rows{suffix}"))
    assert (folder / "rows.csv").read_text(encoding="utf-8") == csv
    parquet = pl.read_parquet(folder / "rows.parquet")
    assert parquet.height == len(json.loads((folder / "rows.json").read_text(encoding="utf-8"))) > 0
    assert parquet.write_csv() == csv
