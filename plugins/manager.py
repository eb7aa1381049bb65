"""Builds the plugins of one run from what trust allows; there is no global instance."""

import importlib
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, field
from functools import cached_property, partial
from pathlib import Path

import pluggy

from plugins import hookspecs, sources
from plugins.api import Export, Importer, Renderer
from plugins.layout.importer import LayoutImporter
from plugins.layout.section import LayoutError

_PROJECT = "mixledger"


@dataclass
class Plugins:
    """The importers and renderers of one run.

    Attributes
    ----------
    importers
        Importers by name, each name once.
    fingerprint
        Hash over everything that decides how exports are read.
    problems
        One sentence for each plugin that was not loaded, and why. Renderers add theirs when they are asked for.
    """

    importers: tuple[Importer, ...]
    fingerprint: str
    _found: list[str]
    _manager: pluggy.PluginManager = field(repr=False)

    @property
    def problems(self) -> tuple[str, ...]:
        """Return what was not loaded, and why."""
        return tuple(self._found)

    @cached_property
    def renderers(self) -> tuple[Renderer, ...]:
        """Return the renderers; the shipped ones are imported only now, because they need heavy libraries."""
        for name in sources.renderer_modules():
            _register(self._manager, name, partial(importlib.import_module, name), self._found)
        found = _collect(self._manager, "mixledger_renderers", self._found)
        named = _unique(found, Renderer, "renderer", self._found)
        return tuple(one for one in named if isinstance(one, Renderer))

    def importer(self, name: str) -> Importer | None:
        """Return the importer of that name, or None."""
        return next((one for one in self.importers if one.name == name), None)

    def claimants(self, export: Export) -> list[tuple[Importer, str]]:
        """Return every importer that claims the export, each with its reason; one that fails claims nothing."""
        claims: list[tuple[Importer, str]] = []
        for one in self.importers:
            try:
                reason = one.claims(export)
            except Exception as fault:
                self._found.append(_sentence(one.name, fault))
                continue
            if reason is not None:
                claims.append((one, reason))
        return claims


def fingerprint(workspace_importers: Path | None = None, trusted: Collection[str] = ()) -> str:
    """Return the hash over everything that decides how exports are read, without loading a plugin."""
    return sources.digest(workspace_importers, trusted)


def load(workspace_importers: Path | None = None, trusted: Collection[str] = ()) -> Plugins:
    """Load the shipped plugins, the layouts of the workspace, and what trusted distributions announce.

    Parameters
    ----------
    workspace_importers
        Folder of the workspace with a folder for each local importer. Layouts are data and always loaded; code
        in it is not.
    trusted
        Names of the installed distributions whose plugins may run. Those of all others are blocked before they
        are imported, and named in `problems`.
    """
    problems: list[str] = []
    manager = pluggy.PluginManager(_PROJECT)
    manager.add_hookspecs(hookspecs)
    shipped = sources.HERE / "importers"
    found: list[object] = list(_layouts(shipped, "", problems))
    for path in sources.code(shipped):
        name = f"plugins.importers.{path.parent.name}.importer"
        _register(manager, name, partial(importlib.import_module, name), problems)
    _register_installed(manager, {_normal(name) for name in trusted}, problems)
    found.extend(_collect(manager, "mixledger_importers", problems))
    if workspace_importers is not None:
        found.extend(_layouts(workspace_importers, "the workspace's ", problems))
        problems.extend(
            f"the workspace's {path.parent.name}/{path.name} was not loaded: code runs only from trusted packages"
            for path in sources.code(workspace_importers)
        )
    importers = [one for one in _unique(found, Importer, "importer", problems) if isinstance(one, Importer)]
    return Plugins(tuple(importers), fingerprint(workspace_importers, trusted), problems, manager)


def _normal(name: str) -> str:
    return name.lower().replace("_", "-").replace(".", "-")


def _register_installed(manager: pluggy.PluginManager, trusted: set[str], problems: list[str]) -> None:
    for one in sources.installed():
        title = f"{one.point.group}:{one.point.name}"
        if _normal(one.distribution) not in trusted:
            # Blocked before it is loaded: unregistering a plugin afterwards comes too late, its code has run.
            manager.set_blocked(title)
            problems.append(
                f"'{one.point.name}' of {one.distribution} {one.version} is not trusted and was not loaded;"
                f" to trust it: mixledger trust {one.distribution}"
            )
            continue
        _register(manager, title, one.point.load, problems)


def _register(manager: pluggy.PluginManager, name: str, make: Callable[[], object], problems: list[str]) -> None:
    """Import and register one plugin; a fault of its own is a problem to report, not a reason to stop."""
    try:
        manager.register(make(), name)
    except Exception as fault:
        problems.append(_sentence(name, fault))


def _sentence(name: str, fault: Exception) -> str:
    return f"'{name}' failed and was left out: {type(fault).__name__}: {fault}".split("\n")[0]


def _layouts(folder: Path, whose: str, problems: list[str]) -> Iterator[LayoutImporter]:
    for path in sources.layouts(folder):
        try:
            importer = LayoutImporter.load(path)
        except (LayoutError, OSError) as fault:
            problems.append(f"{whose}layout was not loaded: {fault}")
            continue
        if importer.name != path.parent.name:
            problems.append(f"{whose}{path.parent.name}/{path.name} was not loaded: its name is '{importer.name}'")
            continue
        yield importer


def _collect(manager: pluggy.PluginManager, hook: str, problems: list[str]) -> list[object]:
    """Call a hook plugin by plugin, so that one that fails is named and the others still count."""
    found: list[object] = []
    plugins = [(name, plugin) for name, plugin in manager.list_name_plugin() if plugin is not None]
    for name, plugin in plugins:
        caller = manager.subset_hook_caller(hook, [other for _, other in plugins if other is not plugin])
        try:
            found.extend(item for given in caller() for item in given)
        except Exception as fault:
            problems.append(_sentence(name, fault))
    return found


def _unique(found: list[object], kind: type, word: str, problems: list[str]) -> Iterator[object]:
    """Yield what keeps the protocol, each name once: the first keeps it, and shipped plugins come first."""
    seen: set[str] = set()
    for one in found:
        if not isinstance(one, kind):
            problems.append(f"{one!r:.100} was not loaded: it is no {word}")
            continue
        name = str(getattr(one, "name", ""))
        if name in seen:
            problems.append(f"a second {word} called '{name}' was not loaded: choose another name")
            continue
        seen.add(name)
        yield one
