"""What a new user is promised of the commands, tried on the demo."""

import csv
import io
import json
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from pipeline.cli.group import group
from pipeline.workspace import Workspace
from tests.support import EXPORTS, ROOT, exports, troubles

TOLD = tomllib.loads((Path(__file__).parent / "told.toml").read_text(encoding="utf-8"))


def call(*given: str) -> Result:
    return CliRunner().invoke(group, list(given), catch_exceptions=False)


def ask(demo: Workspace, sql: str) -> list[dict[str, object]]:
    done = call("-w", str(demo.root), "sql", sql, "--json")
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def test_the_demo_ends_with_its_page(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from pipeline.cli.group import main; main()", "demo", str(tmp_path / "demo")],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    page = Path(done.stdout.splitlines()[-1])
    assert page.is_file()
    assert "<table" in page.read_text(encoding="utf-8")


def test_average_air_voids_by_project(demo: Workspace) -> None:
    rows = ask(demo, "select project_id, avg(air_voids_pct) as mean from sample_results group by 1")
    means = [row["mean"] for row in rows if row["mean"] is not None]
    assert len(means) == 5
    assert all(1 < float(str(mean)) < 12 for mean in means)


def test_sql_gives_csv_and_a_table(demo: Workspace) -> None:
    query = "select project_id, count(*) as n from samples group by 1 order by 1"
    rows = list(csv.DictReader(io.StringIO(call("-w", str(demo.root), "sql", query, "--csv").stdout)))
    assert len(rows) == 5
    table = call("-w", str(demo.root), "sql", query).stdout
    assert all(row["project_id"] in table for row in rows)
    assert "\x1b[" not in table


@pytest.mark.parametrize(
    "query",
    [
        "drop table weighing",
        "copy weighing to 'x.csv'",
        "select * from read_csv('/etc/passwd')",
        "attach 'x.db'",
        "install httpfs",
        "set threads = 1",
        "select 1; select 2",
        "select * frm samples",
    ],
)
def test_a_query_that_is_not_a_question_is_refused_in_a_line(demo: Workspace, query: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from pipeline.cli.group import main; main()", "-w", str(demo.root), "sql", query],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert done.stderr.startswith("Error: ")
    assert "Traceback" not in done.stderr


def test_air_voids_by_hand() -> None:
    """MS-2 (6th ed.) chapter 4 sample: Gmb 2.442, Gmm 2.535 (from memory; closes)."""
    done = call("compute", "air_voids", "gmb=2.442", "gmm=2.535")
    assert "3.67 %" in done.output
    assert "T 269" in done.output
    assert "Gmm" in done.output
    value = json.loads(call("compute", "air_voids", "gmb=2.442", "gmm=2.535", "--json").output)["value"]
    assert value == pytest.approx(3.6686, abs=5e-5)


def test_every_sample_export_can_be_checked_without_a_traceback() -> None:
    done = call("check", *(str(path) for path in exports("*/*")))
    assert done.exit_code == 1
    assert "Traceback" not in done.output


def test_check_writes_nothing(tmp_path: Path) -> None:
    before = {path: path.stat().st_mtime_ns for path in EXPORTS.rglob("*")}
    call("check", str(exports("press_report/*")[0]))
    assert {path: path.stat().st_mtime_ns for path in EXPORTS.rglob("*")} == before


def test_every_trouble_has_a_question() -> None:
    assert set(TOLD) == {trouble["id"] for trouble in troubles()}


@pytest.mark.parametrize("trouble", TOLD)
def test_every_trouble_of_the_demo_is_told(demo: Workspace, trouble: str) -> None:
    """Each trouble has a question to the warehouse and a text its answer must hold."""
    said = json.dumps(ask(demo, TOLD[trouble]["ask"]), ensure_ascii=False)
    assert TOLD[trouble]["holds"] in said, said[:2000]
