"""Writes the package a new importer starts from: whole, and keeping its contract from the first minute."""

import keyword
import re
import sys
from pathlib import Path

import plugins.skeleton
from plugins import sources

_SOURCE = Path(plugins.skeleton.__file__).parent
_NAME = "skeleton"


class SkeletonError(ValueError):
    """A name no package may have, or a folder that is already there."""


def write(name: str, into: Path) -> list[Path]:
    """Write the package into a new folder of its name and return its files.

    Raises
    ------
    SkeletonError
        When the name is taken, reserved or no short name, or the folder exists.
    """
    _check(name)
    root = into / name
    if root.exists():
        raise SkeletonError(f"{root} exists; name another importer, or another folder with --into.")
    files = _package(name)
    for path, text in files.items():
        target = root / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text, encoding="utf-8", newline="\n")
    return [root / path for path in files]


def _check(name: str) -> None:
    if not re.fullmatch(r"[a-z][a-z0-9_]{1,39}", name) or name.endswith("_"):
        raise SkeletonError(f"'{name}': expected 2 to 40 small letters, digits and underscores, such as our_press.")
    if keyword.iskeyword(name) or name in sys.stdlib_module_names:
        raise SkeletonError(f"'{name}' is a name of Python itself; choose another, such as our_{name}.")
    taken = {path.parent.name for path in sources.layouts(sources.HERE / "importers")}
    taken |= {"mixledger", "pipeline", "plugins", "schemas", "warehouse", "tests"}
    if name in taken:
        raise SkeletonError(f"'{name}' is taken by mixledger itself; choose another, such as our_{name}.")


def _package(name: str) -> dict[str, str]:
    """Return path -> text of every file of the package."""
    inside = f"src/{name}"
    files = {
        "pyproject.toml": _PROJECT,
        "README.md": _README,
        "tests/test_contract.py": _TEST,
        f"{inside}/__init__.py": '"""Importer plugin for mixledger: exports of {name}."""\n',
    }
    for path in sorted(_SOURCE.rglob("*")):
        if path.is_file() and path.name != "__init__.py" and path.suffix != ".pyc":
            text = path.read_text("utf-8").replace("from plugins.api import", "from mixledger.plugin import")
            files[f"{inside}/{path.relative_to(_SOURCE).as_posix()}"] = text.replace(_NAME, name)
    title = "".join(part.capitalize() for part in name.split("_"))
    marks = {"{name}": name, "{dashed}": name.replace("_", "-"), "{title}": title}
    return {path: _filled(text, marks) for path, text in files.items()}


def _filled(text: str, marks: dict[str, str]) -> str:
    if text in (_PROJECT, _README, _TEST) or text.startswith('"""Importer plugin'):
        for mark, value in marks.items():
            text = text.replace(mark, value)
    return text


_PROJECT = """\
[build-system]
requires = ["hatchling"]
build-backend = "hatchling.build"

[project]
name = "mixledger-{dashed}"
version = "0.1.0"
description = "Importer plugin for mixledger: exports of {name}."
requires-python = ">=3.11"
dependencies = ["mixledger"]

[project.entry-points."mixledger.importers"]
{name} = "{name}.importer"

[tool.hatch.build.targets.wheel]
packages = ["src/{name}"]

[tool.pytest.ini_options]
pythonpath = ["src"]
testpaths = ["tests"]
"""

_README = """\
# mixledger-{dashed}

Importer plugin for mixledger. What it reads, and what it leaves: `src/{name}/README.md`.

Test it, in an environment that has mixledger and pytest: `pytest`. Every rule of the importer's contract is a test;
its examples lie in `src/{name}/samples`, the records expected of them in `src/{name}/expected`.

Install it into the environment mixledger runs in, then let it run in a workspace:

    pip install .
    mixledger -w lab trust mixledger-{dashed}
    mixledger -w lab contract {name} --accept     # writes the expected records anew, after showing what changed
"""

_TEST = '''\
"""The importer keeps its contract."""

from mixledger.plugin import ImporterContract

from {name}.importer import Reader


class Test{title}(ImporterContract):
    """Every rule of the contract, for this importer."""

    importer = Reader
'''
