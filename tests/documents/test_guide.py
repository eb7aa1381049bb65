"""What the guides show is run: the files of DEVELOPERS.md are written, its commands give the output it prints."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline.cli.group import group
from pipeline.workspace import Workspace
from tests.support import ROOT, drop, exports, run
from warehouse.read import connect

GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
README = (ROOT / "README.md").read_text(encoding="utf-8")
MARKED = re.compile(r"<!-- (file|output): (.+?) -->\n```\w*\n(.*?)```", re.DOTALL)


def marked(kind: str) -> dict[str, str]:
    return {name: text for found, name, text in MARKED.findall(GUIDE) if found == kind}


@pytest.fixture
def shop(lab: Workspace, monkeypatch: pytest.MonkeyPatch) -> Workspace:
    """Give a workspace with the guide's files in place, and go there."""
    for name, text in marked("file").items():
        path = lab.root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    monkeypatch.chdir(lab.root)
    return lab


@pytest.mark.parametrize("command", marked("output"))
def test_commands_print_what_the_guide_shows(shop: Workspace, command: str) -> None:
    done = CliRunner().invoke(group, ["-w", ".", *command.split()], catch_exceptions=False)
    assert done.output == marked("output")[command]


def test_the_new_instrument_reaches_the_warehouse(shop: Workspace) -> None:
    """A refused file is taken up once its layout is there, and gives a figure: 4712.3 / (4717.9 - 2742.1)."""
    layout = shop.importers / "density_bath" / "layout.toml"
    text = layout.read_text(encoding="utf-8")
    layout.unlink()
    drop(shop, exports("register_book/*", "mix_card/*", "limits_card/*"))
    (shop.inbox / "bath.txt").write_text(marked("file")["bath.txt"])
    run(shop)
    assert _one(shop, "select code from refusals where file_name = 'bath.txt'") == "unknown_kind"
    layout.write_text(text, encoding="utf-8")
    run(shop)
    assert _one(shop, "select code from refusals where file_name = 'bath.txt'") == "not_a_number"
    figure = "select value from property_values where sample_id = 'QL-0013' and specimen_no = '7' and property = 'gmb'"
    assert _one(shop, figure) == pytest.approx(4712.3 / (4717.9 - 2742.1), abs=1e-12)


def _one(shop: Workspace, sql: str) -> object:
    with connect(shop.root) as connection:
        ((found,),) = connection.execute(sql).fetchall()
    return found


def test_every_path_the_guides_name_exists() -> None:
    named = set(re.findall(r"`((?:pipeline|plugins|schemas|warehouse|tests)/[\w./]*)`", GUIDE + README))
    assert len(named) > 20
    assert not [path for path in named if not (ROOT / path).exists()]


def test_every_command_the_guides_name_exists() -> None:
    words = re.findall(r"mixledger (?:-w \w+ )?([a-z]+(?:-[a-z]+)*)\b", GUIDE + README)
    known = set(group.list_commands(None))  # type: ignore[arg-type]
    assert {word for word in words if word not in known} <= {"needs", "takes", "is", "met"}


def test_the_readme_begins_with_the_job_and_has_two_commands() -> None:
    assert README.startswith("# mixledger\n\nAn asphalt laboratory")
    commands = [line for line in README.splitlines() if line.startswith("python3 -m venv")]
    assert len(commands) == 2
    assert commands[0].endswith("mixledger demo")
    assert commands[1].endswith("-m pytest")
    assert Path(ROOT / "requirements.lock").is_file()
