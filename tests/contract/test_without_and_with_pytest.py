"""The same rules by command and by pytest, over an importer of the workspace."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline.cli.group import group
from pipeline.workspace import Workspace, create
from tests.support import EXPORTS, ROOT


@pytest.fixture(scope="module")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    """Give a workspace with a layout of its own: a shipped one under another name, with its first line renamed."""
    made = create(tmp_path_factory.mktemp("contract") / "lab")
    folder = made.importers / "own_press"
    shipped = ROOT / "plugins" / "importers" / "press_report"
    (folder / "samples").mkdir(parents=True)
    layout = (shipped / "layout.toml").read_text("utf-8")
    renamed = layout.replace("press_report", "own_press").replace("PRESS REPORT", "OWN PRESS")
    (folder / "layout.toml").write_text(renamed, "utf-8")
    shutil.copyfile(shipped / "README.md", folder / "README.md")
    example = sorted((EXPORTS / "press_report").iterdir())[0]
    text = example.read_text("utf-8").replace("PRESS REPORT", "OWN PRESS")
    (folder / "samples" / example.name).write_text(text, "utf-8")
    return made


def test_the_command_says_what_is_broken_and_writes_what_is_expected(lab: Workspace) -> None:
    def call(*given: str) -> tuple[int, str]:
        done = CliRunner().invoke(group, ["-w", str(lab.root), "contract", *given], catch_exceptions=False)
        return done.exit_code, done.output

    code, said = call()
    assert code == 1
    assert "own_press: broken: what is read of an example equals the records written down for it" in said
    code, said = call("own_press", "--accept")
    assert code == 0 and "+issued_at,stated_at,sample_id" in said and "0 broken" in said
    assert sorted(path.name.split(".txt.")[1] for path in (lab.importers / "own_press" / "expected").iterdir()) == [
        "compaction_height.csv",
        "compaction_run.csv",
    ]
    code, said = call("--json")
    assert code == 0
    assert {each["importer"] for each in json.loads(said)} == {"own_press"}
    code, said = call("nobody")
    assert code == 2 and "there is no importer 'nobody'; there are aggregate_book, balance_book," in said


def test_pytest_runs_the_same_rules(lab: Workspace) -> None:
    note = lab.importers / "own_press" / "README.md"
    note.write_text("nothing", "utf-8")
    command = [sys.executable, "-m", "pytest", "--mixledger-importers", "-q", "-p", "no:cacheprovider"]
    wanted = "own_press and (says or claims or equals or truncation)"
    done = subprocess.run([*command, "-k", wanted], cwd=lab.root, capture_output=True, text=True, check=False)
    assert done.returncode == 1, done.stdout + done.stderr
    assert "own_press-says_what_it_leaves" in done.stdout
    assert "broken: a README.md says what is not read" in done.stdout
    assert "1 failed, 6 passed" in done.stdout


def test_the_plugin_of_pytest_loads_nothing_heavy(tmp_path: Path) -> None:
    (tmp_path / "test_nothing.py").write_text(
        "import sys\ndef test_nothing():\n"
        "    assert not {'polars', 'pandera', 'duckdb', 'plugins.manager'} & set(sys.modules)\n"
        "    assert 'plugins.contract.pytest_plugin' in sys.modules\n"
    )
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "no:hypothesispytest"],
        cwd=tmp_path, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout
