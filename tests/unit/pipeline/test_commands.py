"""The command line: one line for a mistake, the documented exit code, no traceback."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline.cli.exit_codes import EXIT_CODES
from pipeline.cli.group import group
from pipeline.workspace import Workspace
from tests.support import ROOT, drop, exports, run
from tests.unit.plugins.examples import SLIP


def call(*given: str, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "from pipeline.cli.group import main; main()", *given]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    return subprocess.run(command, cwd=cwd, env=environment, capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("-w", "nowhere", "run"), "nowhere is not a workspace"),
        (("-w", "nowhere", "sql", "select 1"), "nowhere is not a workspace"),
        (("rnu",), "Did you mean"),
        (("compute", "vmaa", "gmb=2.4"), "vma"),
        (("compute", "vma", "gmb"), "expected NAME=VALUE"),
        (("compute", "vma", "gmb=2,4"), "expected a number with a decimal point"),
        (("compute", "vma", "gmb=2.4"), "gsb"),
        (("check", "no-such-file"), "no-such-file"),
    ],
)
def test_a_mistake_is_told_in_a_line(given: tuple[str, ...], said: str) -> None:
    done = call(*given)
    assert done.returncode == 2, done.stderr
    assert said in done.stderr
    assert "Traceback" not in done.stderr


def test_the_readme_lists_the_exit_codes() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for code in EXIT_CODES:
        assert f"| {code} | " in readme


def test_exit_codes_of_a_run(lab: Workspace) -> None:
    drop(lab, exports("register_book/*", "mix_card/*", "mix_book/*", "limits_card/*"))
    assert call("-w", str(lab.root), "run", "--no-pages").returncode == 0
    drop(lab, exports("unclaimed/*"))
    done = call("-w", str(lab.root), "run", "--no-pages", "--json")
    assert done.returncode == 1
    assert json.loads(done.stdout)["refused"] == 2
    assert "\x1b[" not in done.stdout + done.stderr


def test_a_dry_run_says_what_it_would_take_and_takes_nothing(lab: Workspace) -> None:
    drop(lab, exports("mix_card/*")[:1])
    done = call("-w", str(lab.root), "run", "--dry-run")
    assert done.stdout.strip() == exports("mix_card/*")[0].relative_to(ROOT / "sample_exports").as_posix()
    assert not lab.journal.exists()


def test_status_tells_what_waits_and_what_is_refused(lab: Workspace) -> None:
    drop(lab, exports("mix_card/*", "unclaimed/*"))
    run(lab)
    drop(lab, exports("limits_card/*"))
    told = json.loads(call("-w", str(lab.root), "status", "--json").stdout)
    assert told["counts"]["waiting in the inbox"] == len(exports("limits_card/*"))
    assert {each["code"] for each in told["refusals"]} >= {"empty", "unknown_kind"}


def test_trace_ends_at_file_line_and_mass(demo: Workspace) -> None:
    done = call("-w", str(demo.root), "trace", "vma", "QL-0013", "--json")
    assert done.returncode == 0, done.stderr
    lines = list(_evidence(json.loads(done.stdout)))
    masses = [line for line in lines if line["text"].startswith("dry ")]
    assert masses
    for line in masses:
        content = (demo.inbox / line["file_name"]).read_text(encoding="cp1252").splitlines()
        number = int(line["place"].removeprefix("line "))
        grams = line["text"].split()[1].replace(".", ",")
        assert f";{grams};" in content[number - 1]
        assert content[number - 1] == line["raw_line"]
        assert line["instrument_id"]


def _evidence(step: dict) -> list[dict]:
    return [*step["evidence"], *(line for each in step["inputs"] for line in _evidence(each))]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("vma", "QL-9999"), "no figure of sample 'QL-9999'"),
        (("vmaa", "QL-0013"), "has no 'vmaa'"),
        (("passing", "QL-0013"), "name one with --at: 0.075"),
    ],
)
def test_a_trace_of_nothing_names_what_there_is(demo: Workspace, given: tuple[str, ...], said: str) -> None:
    done = call("-w", str(demo.root), "trace", *given)
    assert done.returncode == 2
    assert said in done.stderr


def test_check_shows_places_and_values_side_by_side(lab: Workspace) -> None:
    """The Fahrenheit of a slip stands beside the degrees Celsius stored: 77 °F is 25 °C by definition."""
    slip = lab.root / "slip.txt"
    slip.write_text(SLIP.replace("1477.3", "1477,3"), encoding="utf-8")
    done = CliRunner().invoke(group, ["check", str(slip), "--values", "1", "--json"], catch_exceptions=False)
    (told,) = json.loads(done.output)
    rows = {(row["place"], row["field"]): (row["raw"], row["value"], row["remark"]) for row in told["values"]}
    assert rows["line 10, column 'WATER'", "water_temperature_c"] == ("77.0", "25.0 °C", "converted from F")
    assert rows["line 4, column 'TEST'", "method"] == ("maximum, flask", "t209", "looked up")
    assert rows["line 21, column 'AFTER BURN'", "mass_g"] == ("1477,3", None, "refused: A value is not a number.")
    shown = CliRunner().invoke(group, ["check", str(slip), "--values"], catch_exceptions=False)
    assert "weighing  line 10, column 'WATER'" in shown.output
    plain = CliRunner().invoke(group, ["check", str(slip)], catch_exceptions=False)
    assert plain.output.startswith(f"{slip}: balance_slip; would accept 4 weighing\n")
