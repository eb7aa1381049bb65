"""What the demo shows of judgement and programme: a start-up owed, a bias, a pay cut, a doubt; and its working."""

import json

import pytest
from click.testing import CliRunner

from pipeline.cli.group import group
from pipeline.workspace import Workspace
from tests.support import EXPORTS, ROOT

DAY = "2026-11-02"


def call(*given: str, code: int = 0) -> str:
    done = CliRunner().invoke(group, list(given), catch_exceptions=False)
    assert done.exit_code == code, done.output
    return done.output


def ask(demo: Workspace, query: str) -> list[dict[str, object]]:
    return list(json.loads(call("-w", str(demo.root), "sql", query, "--json")))


def due(demo: Workspace, kind: str) -> list[dict[str, object]]:
    return list(json.loads(call("-w", str(demo.root), "due", "--on", DAY, "--kind", kind, "--json")))


def test_a_mix_that_stood_too_long_is_owed_a_startup(demo: Workspace) -> None:
    told = [row["sentence"] for row in due(demo, "startup")]
    assert "SKELL-S12 was produced again on 2026-10-26 after a stop of 48 days, longer than 45" in told
    (row,) = ask(
        demo, "select state from (select 'late' as state, * from programme) where subject = 'stop from 2026-09-08'"
    )
    assert row["state"] == "late"


def test_a_laboratory_with_a_bias_is_named(demo: Workspace) -> None:
    told = [str(row["sentence"]) for row in due(demo, "bias")]
    assert any(sentence.startswith("gmm differs between QL and HB by 0.0") for sentence in told)
    (row,) = ask(
        demo,
        "select n_1, difference, t_p, verdict from comparisons "
        "where kind = 'bias' and property = 'gmm' and period is null",
    )
    assert (row["n_1"], row["verdict"]) == (7, "fail")
    assert float(str(row["difference"])) == pytest.approx(0.011, abs=0.003)
    assert not ask(demo, "select 1 from comparisons where kind = 'bias' and property = 'pb' and verdict = 'fail'")


def test_a_lot_with_reduced_pay_owes_a_retest_and_shows_its_working(demo: Workspace) -> None:
    rows = ask(demo, "select * from lots where project_id = 'SEDGE' and pay_pct < 100 and retest and not removal")
    assert rows
    lot = str(rows[0]["lot"])
    assert any(f"lot {lot} has" in str(row["sentence"]) for row in due(demo, "retest"))
    told = call("-w", str(demo.root), "lot", "SEDGE", "SEDGE-S9", lot)
    for word in ("data", "Q lower", "PWL", "table entered with Q", "pay", "AASHTO R 9", "retest"):
        assert word in told, told
    values = [float(each.split("=")[1]) for each in str(rows[0]["results"]).split()]
    assert sum(values) / len(values) == pytest.approx(float(str(rows[0]["mean"])))


def test_a_result_in_doubt_under_the_guard_band(demo: Workspace) -> None:
    rows = ask(
        demo,
        "select sample_id, value, lower, upper, guard, margin, probability, verdict from judgements "
        "where set_id = 'EBBER-26' and property = 'air_voids' and verdict like 'conditional%'",
    )
    assert rows
    for row in rows:
        assert abs(float(str(row["margin"]))) < float(str(row["guard"]))
        assert (float(str(row["margin"])) >= 0) == (row["verdict"] == "conditional_pass")
        assert 0 < float(str(row["probability"])) < 1
    doubted = {row["sample_id"] for row in due(demo, "in_doubt")}
    assert {row["sample_id"] for row in rows} <= doubted


def test_the_work_list_knows_the_other_troubles_of_the_season(demo: Workspace) -> None:
    assert "QL-0999" in {row["sample_id"] for row in due(demo, "no_register")}
    assert "TW-0009" in {row["sample_id"] for row in due(demo, "missing")}
    assert any(str(row["sentence"]).startswith("TW-GP3 was used on") for row in due(demo, "lapsed"))
    assert {row["state"] for row in due(demo, "overdue")} == {"late"}
    assert any("EBBER-S9" in str(row["sentence"]) for row in due(demo, "stop"))


def test_nothing_is_due_before_it_stands(demo: Workspace) -> None:
    early = json.loads(call("-w", str(demo.root), "due", "--on", "2026-03-01", "--json"))
    assert {row["kind"] for row in early} <= {"bias", "retest", "removal", "outlier", "no_register", "calibration"}


def test_charts_date_the_first_signal(demo: Workspace) -> None:
    rows = ask(demo, "select * from charts where mix_id = 'EBBER-S9' and property = 'pb' order by place_no")
    assert [row["place_no"] for row in rows] == list(range(1, len(rows) + 1))
    signalled = [row["place_no"] for row in rows if row["signals"] or row["published"]]
    assert [row["place_no"] for row in rows if row["first_signal"]] == signalled[:1]


def test_sampling_plans_are_stored_and_shown_again(demo: Workspace) -> None:
    assert "SEDGE-SEDGE-S9-2-902" in call("-w", str(demo.root), "sampling", "show")
    places = json.loads(call("-w", str(demo.root), "sampling", "show", "SEDGE-SEDGE-S9-2-902", "--json"))
    given = (
        "sampling",
        "draw",
        "SEDGE",
        "SEDGE-S9",
        "2",
        "--length",
        "800",
        "--from-station",
        "1200",
        "--width",
        "3.6",
    )
    again = call("-w", str(demo.root), *given, "--left", "-1.8", "--seed", "902", "--dry-run")
    for row in places:
        assert str(row["station_m"]) in again and str(row["offset_m"]) in again


def test_a_lot_that_is_not_there_is_told_in_a_line(demo: Workspace) -> None:
    import subprocess
    import sys

    program = [sys.executable, "-c", "from pipeline.cli.group import main; main()", "-w", str(demo.root)]
    done = subprocess.run(
        [*program, "lot", "SEDGE", "SEDGE-S9", "99"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 2
    assert "SEDGE SEDGE-S9 1" in done.stderr and "Traceback" not in done.stderr


@pytest.mark.parametrize("card", sorted(path.name for path in (EXPORTS / "limits_card").glob("*.toml")))
def test_every_set_of_the_demo_is_sound(card: str) -> None:
    told = call("spec", "check", str(EXPORTS / "limits_card" / card))
    assert told.splitlines()[-1] == "The set is sound."


def test_the_published_set_is_sound_and_every_limit_has_its_source(tmp_path) -> None:
    own = tmp_path / "ours.toml"
    own.write_text(call("spec", "example"), encoding="utf-8")
    told = json.loads(call("spec", "check", str(own), "--json"))
    assert told["faults"] == []
    assert len(told["limits"]) > 90
    assert all(limit["source"] for limit in told["limits"])
    assert {limit["mark"] for limit in told["limits"]} == {None, "from memory"}


def test_faults_of_a_set_are_named_with_what_to_do(tmp_path) -> None:
    own = tmp_path / "ours.toml"
    limit = '\n[[limit]]\nid = "more"\nproperty = "air_voids"\nmaterial = "mix"\nbasis = "absolute"\n'
    limit += "uper = 9.0\nlower = 6.0\n"
    own.write_text(call("spec", "example") + limit + 'required = false\nsource = "test"\n', encoding="utf-8")
    told = call("spec", "check", str(own), code=1)
    assert "fault: 'uper' in [[limit]]" in told and "did you mean 'upper'?" in told
    assert "fault: more: contradicts limit 'voids'" in told


def test_a_file_that_is_no_set_is_refused(tmp_path) -> None:
    other = tmp_path / "other.toml"
    other.write_text("a = 1\n", encoding="utf-8")
    done = CliRunner().invoke(group, ["spec", "check", str(other)])
    assert type(done.exception).__name__ == "SpecificationError"
    assert "not the card of a specification set" in str(done.exception)
