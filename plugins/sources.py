"""Where plugins may come from: candidates are listed and hashed here without running any of them."""

import hashlib
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from importlib.metadata import EntryPoint, PackageNotFoundError, distribution, distributions, version
from pathlib import Path
from pkgutil import iter_modules

HERE = Path(__file__).parent

#: Entry-point groups an installed package may announce plugins under.
GROUPS = ("mixledger.importers", "mixledger.renderers")


@dataclass(frozen=True)
class Installed:
    """A plugin an installed distribution announces; nothing of it has been imported."""

    point: EntryPoint
    distribution: str
    version: str


def layouts(folder: Path) -> list[Path]:
    """Return the layout files of the importer folders inside a folder, by name."""
    return sorted(folder.glob("*/layout.toml")) if folder.is_dir() else []


def code(folder: Path) -> list[Path]:
    """Return the importers written in code inside a folder, by name."""
    return sorted(folder.glob("*/importer.py")) if folder.is_dir() else []


def renderer_modules() -> list[str]:
    """Return the names of the shipped modules that may hold renderers."""
    folder = HERE / "renderers"
    return [f"plugins.renderers.{found.name}" for found in iter_modules([str(folder)]) if not found.ispkg]


def installed() -> Iterator[Installed]:
    """Yield the plugins that installed distributions announce, in the order of their names."""
    found = [
        Installed(point, package.metadata["Name"] or "", package.version)
        for package in distributions()
        for point in package.entry_points
        if point.group in GROUPS
    ]
    yield from sorted(found, key=lambda one: (one.distribution, one.point.group, one.point.name))


def trusted_installed(trusted: Collection[str]) -> Iterator[Installed]:
    """Yield the plugins of the distributions named, without looking at any other."""
    for name in sorted(trusted):
        try:
            package = distribution(name)
        except PackageNotFoundError:
            continue
        for point in package.entry_points:
            if point.group in GROUPS:
                yield Installed(point, package.metadata["Name"] or name, package.version)


def digest(workspace_importers: Path | None, trusted: Collection[str] = ()) -> str:
    """Return one hash over everything that decides how exports are read; imports none of it.

    It covers the layouts and importers shipped and of the workspace, the engine that reads layouts, the schemas
    they are held against, and the versions of the trusted distributions.
    """
    total = hashlib.sha256()
    shipped = HERE / "importers"
    engine = [*HERE.glob("*.py"), *(HERE / "layout").glob("*.py"), *(HERE.parent / "schemas").rglob("*.py")]
    local = layouts(workspace_importers) if workspace_importers else []
    for path in (*sorted(engine), *layouts(shipped), *code(shipped), *local):
        total.update(f"{path.parent.name}/{path.name}\0".encode())
        total.update(hashlib.sha256(path.read_bytes()).digest())
    for name in sorted(trusted):
        try:
            total.update(f"{name}=={version(name)}\0".encode())
        except PackageNotFoundError:
            total.update(f"{name} is not installed\0".encode())
    return total.hexdigest()
