"""A workspace with nothing in its inbox, then with single exports: it answers in sentences, and every page stands."""

import contextlib
import io
import re
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from pipeline.cli.group import main
from tests.pages.hollow import hollow
from tests.pages.reading import read
from tests.support import EXPORTS

#: The first opens the projects, the second enters samples.
REGISTER = ("register_book/register-2026-03-02.xlsx", "register_book/register-2026-03-31.xlsx")


@dataclass(frozen=True)
class Answer:
    """What the command line answered."""

    code: int
    output: str


def call(root: Path, *given: str) -> Answer:
    """Call the command line as a user does."""
    said = io.StringIO()
    with (
        pytest.MonkeyPatch.context() as patch,
        contextlib.redirect_stdout(said),
        contextlib.redirect_stderr(said),
        pytest.raises(SystemExit) as left,
    ):
        patch.setattr(sys, "argv", ["mixledger", "-w", str(root), *given])
        main()
    assert "a fault of its own" not in said.getvalue(), said.getvalue()
    return Answer(int(left.value.code or 0), said.getvalue().strip())


def pages(root: Path) -> dict[str, str]:
    """Return the pages of a workspace, each held to be whole."""
    made = {path.relative_to(root / "pages").as_posix(): path.read_text(encoding="utf-8") for path in
            sorted((root / "pages").rglob("*.html"))}  # fmt: skip
    for name, page in made.items():
        assert not read(page).faults, name
        assert not hollow(page), (name, hollow(page)[:5])
    return made


def text(page: str) -> str:
    return " ".join(read(page).text.split())


@pytest.fixture
def lab(tmp_path: Path) -> Path:
    call(tmp_path, "init", str(tmp_path / "lab"))
    return tmp_path / "lab"


def drop(root: Path, pattern: str) -> Path:
    source = sorted(EXPORTS.glob(pattern))[0]
    (root / "inbox" / source.name).write_bytes(source.read_bytes())
    return source


@pytest.mark.parametrize("units", ["si", "us"])
def test_a_first_run_with_an_empty_inbox_leaves_pages_that_say_so(lab: Path, units: str) -> None:
    settings = lab / "mixledger.toml"
    text_of = settings.read_text(encoding="utf-8")
    settings.write_text(re.sub('^units = "si"', f'units = "{units}"', text_of, flags=re.M), encoding="utf-8")
    done = call(lab, "run")
    assert (done.code, done.output.splitlines()[-1]) == (0, "nothing new, 3 pages rendered")
    made = pages(lab)
    assert set(made) == {"summary.html", "due.html", "quality.html"}
    assert "The register holds no project yet" in text(made["summary.html"])
    assert "The register holds no sample yet" in text(made["due.html"])
    assert "No export has arrived yet" in text(made["quality.html"])
    assert call(lab, "run").output.splitlines()[-1] == "nothing new"


@pytest.mark.parametrize(
    "given", [["status"], ["due"], ["sql", "select 1"], ["report"], ["report", "--format", "xlsx"]]
)
def test_commands_answer_in_sentences_before_anything_arrived(lab: Path, given: list[str]) -> None:
    call(lab, "run")
    done = call(lab, *given)
    assert done.code in (0, 2)
    if done.code == 2:
        assert "No warehouse has been published" in done.output
        assert "once its inbox holds an export" in done.output


def test_a_lost_copy_is_no_empty_workspace(lab: Path) -> None:
    for book in REGISTER:
        drop(lab, book)
    call(lab, "run")
    before = pages(lab)
    (lab / "store" / "current").unlink()
    (lab / "store" / "state.json").write_text(
        re.sub(r'"renderers": "\w*"', '"renderers": ""', (lab / "store" / "state.json").read_text(encoding="utf-8")),
        encoding="utf-8",
    )
    assert call(lab, "run").code == 2
    assert pages(lab) == before


def test_an_export_before_its_register_waits_and_says_for_what(lab: Path) -> None:
    source = drop(lab, "balance_journal/HB-1-20260414.csv")
    assert call(lab, "run").code == 1
    made = pages(lab)
    assert set(made) == {"summary.html", "due.html", "quality.html"}
    for name in ("summary.html", "quality.html"):
        assert source.name in text(made[name])
        assert "is not in the register" in text(made[name])
    assert "the register does not have it" in text(made["due.html"])


def test_a_register_alone_gives_every_project_and_sample_its_page(lab: Path) -> None:
    for book in REGISTER:
        drop(lab, book)
    call(lab, "run")
    made = pages(lab)
    kinds = {name.split("/")[0] for name in made if "/" in name}
    assert kinds == {"project", "mix", "sample"}
    assert all("judged yet" in text(page) for name, page in made.items() if name.startswith("project/"))
    # A binder content the register states is a result; that nothing was measured stands beside it.
    assert all(
        "No reading of this sample has arrived" in text(page) for name, page in made.items() if "sample/" in name
    )
    done = call(lab, "report", "--dry-run")
    assert done.code == 0


def test_an_export_no_importer_takes_is_listed_with_what_to_do(lab: Path) -> None:
    (lab / "inbox" / "holiday.txt").write_text("greetings from the coast\n", encoding="utf-8")
    assert call(lab, "run").code == 1
    made = pages(lab)
    assert "holiday.txt" in text(made["summary.html"]) and "holiday.txt" in text(made["quality.html"])
    assert "No row has been accepted yet" in text(made["quality.html"])


@pytest.mark.parametrize("folder", ["mix_card", "limits_card", "track_xml"])
def test_a_single_export_leaves_whole_pages(lab: Path, folder: str) -> None:
    drop(lab, f"{folder}/*")
    assert call(lab, "run").code in (0, 1)
    assert {"summary.html", "due.html", "quality.html"} <= set(pages(lab))
