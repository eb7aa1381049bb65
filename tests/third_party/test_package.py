"""A package of its own, built and installed by pip, adds an importer and a renderer: trusted, used, trust withdrawn."""

import json
import os
import site
import subprocess
import sys
import sysconfig
from pathlib import Path
from typing import Any

import pytest

from pipeline import skeleton
from tests.support import ROOT

RENDERER = '''
"""A page that lists the samples."""

from html import escape

from mixledger.plugin import Artefact, hookimpl


class Cards:
    """Renders one page below a folder of its own name."""

    name = "our_cards"

    def render(self, tables, scope):
        """Draw the page."""
        samples = tables["inputs"]["sample_id"].unique().sort().to_list() if "inputs" in tables else []
        page = "".join(f"<li>{escape(str(each))}</li>" for each in samples)
        return [Artefact("our_cards/samples.html", f"<ul>{page}</ul>".encode(), "text/html")]


@hookimpl
def mixledger_renderers():
    """Offer the page."""
    return [Cards()]
'''

TEST = '''

from our_press.cards import Cards
from mixledger.plugin import RendererContract


class TestCards(RendererContract):
    """Every rule of a renderer's contract."""

    renderer = Cards
'''


def run(*given: str | Path, folder: Path) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PIP_DISABLE_PIP_VERSION_CHECK": "1", "PIP_NO_INDEX": "1", "DO_NOT_TRACK": "1"}
    done = subprocess.run([*map(str, given)], cwd=folder, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done


@pytest.fixture(scope="module")
def package(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the package a newcomer starts from, with a renderer added."""
    into = tmp_path_factory.mktemp("package")
    skeleton.write("our_press", into)
    made = into / "our_press"
    (made / "src" / "our_press" / "cards.py").write_text(RENDERER.lstrip(), "utf-8")
    project = made / "pyproject.toml"
    announced = '[project.entry-points."mixledger.renderers"]\nour_cards = "our_press.cards"\n\n[tool.hatch'
    project.write_text(project.read_text("utf-8").replace("[tool.hatch", announced, 1), "utf-8")
    with (made / "tests" / "test_contract.py").open("a", encoding="utf-8") as out:
        out.write(TEST)
    return made


@pytest.fixture(scope="module")
def python(tmp_path_factory: pytest.TempPathFactory, package: Path) -> Path:
    """Give the interpreter of a throw-away environment that sees this one and has the package installed by pip."""
    folder = tmp_path_factory.mktemp("environment")
    run(sys.executable, "-m", "venv", folder, folder=folder)
    scripts = "Scripts" if os.name == "nt" else "bin"
    interpreter = folder / scripts / "python"
    paths = sysconfig.get_paths(vars={"base": str(folder), "platbase": str(folder)})
    seen = [f"import site; site.addsitedir({place!r})" for place in site.getsitepackages()]
    Path(paths["purelib"], "surrounding.pth").write_text("\n".join([*seen, str(ROOT)]) + "\n", "utf-8")
    run(interpreter, "-m", "pip", "install", "-q", "--no-deps", "--no-build-isolation", package, folder=package.parent)
    return interpreter


def test_the_package_is_trusted_used_and_no_longer_trusted(python: Path, package: Path, tmp_path: Path) -> None:
    sample = package / "src" / "our_press" / "samples" / "weighings.txt"
    driver = Path(__file__).with_name("driver.py")
    seen: dict[str, Any] = json.loads(run(python, driver, tmp_path / "lab", sample, folder=tmp_path).stdout)
    assert Path(seen["installed_in"]).is_relative_to(python.parents[1])
    assert seen["untrusted run"][0] == 1
    assert "to trust it: mixledger trust mixledger-our-press" in seen["untrusted run"][1]
    assert seen["untrusted refusals"] == [["unknown_kind"]]
    assert '"mixledger-our-press==0.1.0"' in seen["trust"][1] and "our_press/importer.py" in seen["trust"][1]
    assert seen["rows"] == [
        ["1", "dry", 4712.3, 5],
        ["1", "ssd", 4717.9, 7],
        ["1", "submerged", 2742.1, 6],
        ["2", "dry", 4705.0, 8],
        ["2", "ssd", 4711.2, 10],
        ["2", "submerged", 2736.6, 9],
    ]
    assert seen["reader"] == [["our_press", "1 (mixledger-our-press 0.1.0)"]]
    origin = "installed: mixledger-our-press"
    assert seen["plugins"]["our_cards"] == [origin, "trusted", [], []]
    assert seen["plugins"]["our_press"] == [origin, "trusted", ["weighing"], ["one.txt"]]
    assert seen["page"] == "<ul><li>QL-0013</li></ul>"
    assert "no longer trusted" in seen["withdraw"][1]
    assert seen["withdrawn refusals"] == [["two.txt", "unknown_kind"]]
    assert seen["withdrawn rows"] == [[6]]


def test_its_own_tests_hold(package: Path) -> None:
    done = run(sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", folder=package)
    assert " passed" in done.stdout and "failed" not in done.stdout


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("Our-Press", "expected 2 to 40 small letters"),
        ("../x", "expected 2 to 40 small letters"),
        ("json", "is a name of Python itself"),
        ("class", "is a name of Python itself"),
        ("mix_card", "is taken by mixledger itself"),
        ("plugins", "is taken by mixledger itself"),
    ],
)
def test_names_no_package_may_have(name: str, said: str, tmp_path: Path) -> None:
    with pytest.raises(skeleton.SkeletonError, match=said):
        skeleton.write(name, tmp_path)
    assert not list(tmp_path.iterdir())


def test_a_folder_that_is_there_is_left(package: Path) -> None:
    with pytest.raises(skeleton.SkeletonError, match="exists"):
        skeleton.write("our_press", package.parent)
