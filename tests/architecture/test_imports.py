"""The floors of the house hold, and each rule about imports can fail."""

import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def lint_imports(folder: Path) -> subprocess.CompletedProcess[str]:
    script = "from importlinter.cli import lint_imports; import sys; sys.exit(lint_imports(no_cache=True))"
    return subprocess.run([sys.executable, "-c", script], cwd=folder, capture_output=True, text=True, check=False)


def contracts() -> list[dict[str, object]]:
    return tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]


def test_every_contract_is_kept() -> None:
    done = lint_imports(ROOT)
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"{len(contracts())} kept, 0 broken" in done.stdout


def test_no_contract_has_an_ignore_list() -> None:
    assert not [each["name"] for each in contracts() if "ignore_imports" in each]


@pytest.mark.parametrize(
    ("module", "line"),
    [
        ("schemas/units.py", "import warehouse"),
        ("plugins/api.py", "import warehouse"),
        ("pipeline/local.py", "import prefect"),
        ("pipeline/judge/single.py", "import duckdb"),
        ("pipeline/judge/limits.py", "import pandera"),
    ],
)
def test_a_planted_import_breaks_a_contract(module: str, line: str, tmp_path: Path) -> None:
    import shutil

    for name in ("pipeline", "plugins", "schemas", "warehouse", "pyproject.toml"):
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copyfile(source, tmp_path / name)
    planted = tmp_path / module
    planted.write_text(planted.read_text() + f"\n{line}\n")
    assert lint_imports(tmp_path).returncode == 1
