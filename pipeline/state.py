"""How far the work has come: what is stored, published and rendered. A small file, replaced atomically."""

import hashlib
import json
import os
from dataclasses import asdict, dataclass
from pathlib import Path

from pipeline.settings import Settings
from pipeline.workspace import Workspace

#: Rooms and folders whose code decides what a figure or a verdict is, seen from the folder of the rooms.
_DECIDING = (
    "schemas",
    "pipeline/formulas",
    "pipeline/derive",
    "pipeline/uncertainty",
    "pipeline/judge",
    "pipeline/judging.py",
    "pipeline/rounding.py",
)


@dataclass(frozen=True)
class State:
    """Marks of the last complete pass.

    Attributes
    ----------
    arrivals
        Lines of the journal that are stored.
    readers
        Fingerprint of the importers they were read with; a change takes up again what was refused.
    derivation
        Fingerprint of the code and settings the figures rest on; a change derives everything anew.
    renderers
        Fingerprint of the trusted packages whose renderers made the pages; a change renders all of them anew.
    stored, rendered
        Last run whose rows are stored and published, and last run whose pages are rendered.
    """

    arrivals: int = 0
    readers: str = ""
    derivation: str = ""
    renderers: str = ""
    stored: int = 0
    rendered: int = 0


def _path(workspace: Workspace) -> Path:
    return workspace.store / "state.json"


def load(workspace: Workspace) -> State:
    """Return the state; the empty one where there is none or it cannot be read (everything is then looked at again)."""
    try:
        return State(**json.loads(_path(workspace).read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return State()


def save(workspace: Workspace, state: State) -> None:
    """Replace the state."""
    aside = _path(workspace).with_suffix(".new")
    with aside.open("w", encoding="utf-8") as out:
        json.dump(asdict(state), out)
        out.flush()
        os.fsync(out.fileno())
    aside.replace(_path(workspace))


def readers(workspace: Workspace, settings: Settings) -> str:
    """Return the fingerprint of the importers, of what is trusted, and of which importer is preferred."""
    from plugins.manager import fingerprint

    found = fingerprint(workspace.importers, settings.plugins.trusted)
    preferred = settings.plugins.prefer
    return hashlib.sha256(f"{found} {preferred}".encode()).hexdigest() if preferred else found


def derivation(settings: Settings) -> str:
    """Return the fingerprint of the code and the named choices that figures and verdicts rest on."""
    digest = hashlib.sha256(repr((settings.results, settings.uncertainty)).encode())
    rooms = Path(__file__).parents[1]
    for part in _DECIDING:
        place = rooms / part
        files = [*place.rglob("*.py"), *place.rglob("*.toml")] if place.is_dir() else [place]
        for source in sorted(files):
            digest.update(source.read_bytes())
    return digest.hexdigest()[:16]
