"""Where plugins may come from: candidates are listed and hashed here without running any of them."""

import hashlib
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from importlib.metadata import Distribution, EntryPoint, PackageNotFoundError, distribution, distributions
from pathlib import Path
from pkgutil import iter_modules

HERE = Path(__file__).parent

IMPORTERS, RENDERERS = "mixledger.importers", "mixledger.renderers"

#: Entry-point groups an installed package may announce plugins under.
GROUPS = (IMPORTERS, RENDERERS)


@dataclass(frozen=True)
class Installed:
    """A plugin an installed distribution announces; nothing of it has been imported."""

    point: EntryPoint
    distribution: str
    version: str


@dataclass(frozen=True)
class LocalCode:
    """An importer in code in the folder of a workspace; nothing of it has been run."""

    path: Path
    sha256: str

    @property
    def place(self) -> str:
        """Return how the settings name it: folder of the importers and its own."""
        return f"{self.path.parents[1].name}/{self.path.parent.name}"

    @property
    def trusted_as(self) -> str:
        """Return the line under `[plugins] trusted` that lets exactly these bytes run."""
        return f"{self.place}@sha256:{self.sha256}"


def normal(name: str) -> str:
    """Return the name of a distribution in its one normal spelling."""
    return re.sub(r"[-_.]+", "-", name).lower()


def is_local(entry: str) -> bool:
    """Return whether a trusted entry names code in the workspace; no distribution has a slash in its name."""
    return "/" in entry


def layouts(folder: Path) -> list[Path]:
    """Return the layout files of the importer folders inside a folder, by name."""
    return sorted(folder.glob("*/layout.toml")) if folder.is_dir() else []


def code(folder: Path) -> list[Path]:
    """Return the importers written in code inside a folder, by name."""
    return sorted(folder.glob("*/importer.py")) if folder.is_dir() else []


def local_code(folder: Path) -> list[LocalCode]:
    """Return the importers in code of a workspace with the hash of their bytes, by name."""
    return [LocalCode(path, hashlib.sha256(path.read_bytes()).hexdigest()) for path in code(folder)]


def renderer_modules() -> list[str]:
    """Return the names of the shipped modules that may hold renderers."""
    folder = HERE / "renderers"
    return [f"plugins.renderers.{found.name}" for found in iter_modules([str(folder)]) if not found.ispkg]


def installed() -> Iterator[Installed]:
    """Yield the plugins that installed distributions announce, in the order of their names, each once."""
    found: dict[tuple[str, str, str], Installed] = {}
    for package in distributions():
        for one in _announced(package):
            # The first distribution of a name on the path is the one that would be imported.
            found.setdefault((normal(one.distribution), one.point.group, one.point.name), one)
    yield from (found[key] for key in sorted(found))


def _announced(package: Distribution) -> list[Installed]:
    """Return what a distribution announces; one whose own description cannot be read announces nothing."""
    try:
        points = [point for point in package.entry_points if point.group in GROUPS]
        return [Installed(point, package.metadata["Name"] or "", package.version) for point in points]
    except Exception:
        return []


def version_of(name: str) -> str | None:
    """Return the version of an installed distribution, or None."""
    try:
        return distribution(name).version
    except PackageNotFoundError:
        return None


def digest(workspace_importers: Path | None, trusted: Collection[str] = ()) -> str:
    """Return one hash over everything that decides how exports are read; imports none of it.

    It covers the layouts and importers shipped and of the workspace, the engine that reads layouts, the schemas
    they are held against, what is trusted, and the versions of the trusted distributions.
    """
    total = hashlib.sha256()
    shipped = HERE / "importers"
    engine = [*HERE.glob("*.py"), *(HERE / "layout").glob("*.py"), *(HERE.parent / "schemas").rglob("*.py")]
    local = layouts(workspace_importers) if workspace_importers else []
    for path in (*sorted(engine), *layouts(shipped), *code(shipped), *local):
        total.update(f"{path.parent.name}/{path.name}\0".encode())
        total.update(hashlib.sha256(path.read_bytes()).digest())
    for entry in sorted(trusted):
        total.update(f"{entry} {_state(entry, workspace_importers)}\0".encode())
    return total.hexdigest()


def pages_digest(trusted: Collection[str] = (), asked: str = "") -> str:
    """Return one hash over the distributions whose renderers may run; a change owes all pages anew.

    Parameters
    ----------
    trusted
        What may run.
    asked
        How the pages are to be shown, in any form that changes when they are to be shown otherwise.
    """
    total = hashlib.sha256(asked.encode())
    for entry in sorted(entry for entry in trusted if not is_local(entry)):
        total.update(f"{entry} {_state(entry, None)}\0".encode())
    return total.hexdigest()


def _state(entry: str, workspace_importers: Path | None) -> str | None:
    """Return what a trusted entry names as it is now: its version, or the hash of its bytes."""
    if not is_local(entry):
        return version_of(entry.partition("==")[0].strip())
    path = (workspace_importers or Path()) / entry.partition("@")[0].rpartition("/")[2] / "importer.py"
    return hashlib.sha256(path.read_bytes()).hexdigest() if workspace_importers and path.is_file() else None
