"""A changed limit judges anew just what it touches, keeps the former verdicts, and says what changed."""

import pytest
from click.testing import CliRunner

from pipeline import workspace
from pipeline.cli.group import group
from pipeline.workspace import Workspace
from tests.support import EXPORTS, drop, exports, run
from warehouse.read import connect
from warehouse.sql import fetch

CARD = EXPORTS / "limits_card" / "SEDGE-26.toml"
OLD = 'id = "air-voids"\nproperty = "air_voids"\nmaterial = "mix"\nbasis = "absolute"\nlower = 2.5\nupper = 5.5'


@pytest.fixture(scope="module")
def changed(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    """Give a workspace judged once, and judged again after one limit was narrowed."""
    made = workspace.create(tmp_path_factory.mktemp("changed") / "lab")
    drop(made, exports("register_book/*", "mix_card/SEDGE*", "limits_card/SEDGE*", "press_json/HB-000[1-9]*"))
    drop(made, exports("balance_journal/HB-*-202605*", "balance_slip/HB-*-202605*"))
    run(made)
    text = CARD.read_text(encoding="utf-8")
    assert OLD in text
    narrowed = text.replace(OLD, OLD.replace("5.5", "3.0")).replace("2026-02-27T09:00:00", "2026-06-01T09:00:00")
    (made.inbox / "SEDGE-26-narrowed.toml").write_text(narrowed, encoding="utf-8")
    run(made)
    return made


def ask(at: Workspace, query: str) -> list[tuple[object, ...]]:
    with connect(at.root) as connection:
        return fetch(connection, query).rows()


def test_only_verdicts_under_the_limit_are_new(changed: Workspace) -> None:
    new = ask(changed, "SELECT DISTINCT limit_id FROM judgement WHERE valid_from_run = 2")
    assert new == [("air-voids",)]
    assert (
        ask(changed, "SELECT count(*) FROM judgement WHERE valid_from_run = 1 AND limit_id <> 'air-voids'")[0][0] > 10
    )


def test_no_figure_was_derived_anew(changed: Workspace) -> None:
    assert ask(changed, "SELECT count(*) FROM property_value WHERE valid_from_run = 2 OR valid_to_run = 2") == [(0,)]


def test_the_former_verdicts_stay_as_history(changed: Workspace) -> None:
    pairs = ask(
        changed,
        "SELECT o.verdict, o.upper, n.verdict, n.upper FROM judgement o JOIN judgement n USING (sample_id, limit_id) "
        "WHERE o.limit_id = 'air-voids' AND o.valid_to_run = 2 AND n.valid_from_run = 2 AND n.valid_to_run IS NULL",
    )
    assert len(pairs) >= 2
    assert {pair[1] for pair in pairs} == {5.5} and {pair[3] for pair in pairs} == {3.0}
    assert ("pass", 5.5, "fail", 3.0) in pairs


def test_what_changed_is_said(changed: Workspace) -> None:
    done = CliRunner().invoke(group, ["-w", str(changed.root), "spec", "changes"])
    assert done.exit_code == 0, done.output
    lines = done.output.splitlines()
    assert lines[:2] == ["run 2", "  SEDGE-26, specification limit air-voids: upper 5.5 -> 3.0"]
    assert any("by air-voids: pass -> fail" in line for line in lines)
