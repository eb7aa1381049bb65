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
MARKED = re.compile(r"<!-- (file|output|edit): (.+?) -->\n```\w*\n(.*?)```", re.DOTALL)


def walk(lab: Workspace) -> list[tuple[str, str, str]]:
    """Do what the guide does, in its order, in the workspace; return each command with what it printed and should."""
    printed = []
    for kind, name, text in MARKED.findall(GUIDE):
        path = lab.root / name
        if kind == "file":
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
        elif kind == "edit":
            old, new = (line[1:] for line in text.splitlines())
            layout = path.read_text(encoding="utf-8")
            assert layout.count(old) == 1, layout
            path.write_text(layout.replace(old, new), encoding="utf-8")
        else:
            done = CliRunner().invoke(group, ["-w", ".", *name.split()], catch_exceptions=False)
            printed.append((name, done.output, text))
    return printed


def test_the_guide_holds_and_its_instrument_reaches_the_warehouse(
    lab: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A refused file is taken up once its layout is there, and gives a figure: 4712.3 / (4717.9 - 2742.1)."""
    monkeypatch.chdir(lab.root)
    drop(lab, exports("register_book/*", "mix_card/*", "limits_card/*"))
    (lab.inbox / "bath.txt").write_text(next(text for kind, _, text in MARKED.findall(GUIDE) if kind == "file"))
    run(lab)
    assert _one(lab, "select code from refusals where file_name = 'bath.txt'") == "unknown_kind"
    printed = walk(lab)
    assert [command.split()[0] for command, *_ in printed] == ["draft", "check"]
    for _, told, shown in printed:
        assert told == shown
    run(lab)
    assert _one(lab, "select code from refusals where file_name = 'bath.txt'") == "not_a_number"
    figure = "select value from property_values where sample_id = 'QL-0013' and specimen_no = '7' and property = 'gmb'"
    assert _one(lab, figure) == pytest.approx(4712.3 / (4717.9 - 2742.1), abs=1e-12)


def _one(lab: Workspace, sql: str) -> object:
    with connect(lab.root) as connection:
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
    assert commands[1].endswith("-m pytest -n auto --dist loadfile")
    assert Path(ROOT / "requirements.lock").is_file()
