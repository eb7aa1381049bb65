"""What tests share: the demo's exports, dropping them, and making a pass."""

import random
import shutil
import tomllib
from collections.abc import Iterable
from pathlib import Path

from pipeline import settings
from pipeline.local import Local
from pipeline.order import Outcome, one_pass
from pipeline.workspace import Workspace

ROOT = Path(__file__).parents[1]
EXPORTS = ROOT / "sample_exports"
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


def exports(*patterns: str) -> list[Path]:
    """Return the demo's exports that match, in a fixed order."""
    return sorted(
        {path for pattern in patterns for path in EXPORTS.glob(pattern) if path.is_file() and path.name[0] != "."}
    )


def troubles() -> list[dict[str, str]]:
    """Return the troubles of real life in the demo's exports."""
    listed = tomllib.loads((ROOT / "tests" / "scenario" / "troubles.toml").read_text(encoding="utf-8"))
    return list(listed["trouble"])


def drop(into: Workspace, paths: Iterable[Path]) -> None:
    """Copy exports into the inbox, as a technician would."""
    for path in paths:
        target = into.inbox / path.relative_to(EXPORTS)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, target)


def run(at: Workspace, *, pages: bool = False) -> Outcome:
    """Make one pass in this process."""
    return one_pass(at, settings.load(at.root), Local(), pages=pages)


def shuffled(paths: Iterable[Path], seed: int) -> list[Path]:
    """Return the paths in an order that depends on the seed alone."""
    mixed = list(paths)
    random.Random(seed).shuffle(mixed)
    return mixed
