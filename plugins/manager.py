"""Builds the plugins of one run from what trust allows; there is no global instance."""

import importlib
import tomllib
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, field
from functools import cached_property, partial
from pathlib import Path
from typing import Literal, cast

import pluggy

from plugins import hookspecs, sources
from plugins.apart.host import ApartImporter, ApartRenderer, PluginFailedError, Process
from plugins.api import Export, Importer, Renderer, folder_of
from plugins.layout.importer import LayoutImporter
from plugins.layout.section import LayoutError
from plugins.trust import Trust

_PROJECT = "mixledger"

#: Seconds a plugin in code may take over one question unless the settings say otherwise.
TIME_LIMIT = 30.0

Kind = Literal["importer", "renderer"]
Origin = Literal["shipped", "installed", "local"]


@dataclass(frozen=True)
class Known:
    """One plugin that was found, loaded or not.

    Attributes
    ----------
    origin
        `shipped`, `installed` (with `package` and its version) or `local`, in the folder of the workspace.
    version
        What rows read by it carry; of a plugin that was not loaded, the version of its package.
    gives
        Records an importer hands in; empty for a renderer, and for what was not loaded.
    trust
        `shipped`; `data` for a layout, which needs none; `trusted`, `not trusted`, `changed`, or `failed`.
    place
        Folder of its layout or code, where that is known.
    """

    name: str
    kind: Kind
    origin: Origin
    trust: str
    version: str = ""
    package: str = ""
    gives: tuple[str, ...] = ()
    place: Path | None = None


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
    _builder: "_Builder" = field(repr=False)

    @property
    def problems(self) -> tuple[str, ...]:
        """Return what was not loaded, and why."""
        return tuple(self._builder.problems)

    @property
    def known(self) -> tuple[Known, ...]:
        """Return every plugin found, loaded or not; the renderers once they have been asked for."""
        return tuple(self._builder.known)

    @cached_property
    def renderers(self) -> tuple[Renderer, ...]:
        """Return the renderers; the shipped ones are imported only now, because they need heavy libraries."""
        return tuple(self._builder.renderers())

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
                self._builder.problems.append(_sentence(one.name, fault))
                continue
            if reason is not None:
                claims.append((one, reason))
        return claims


def fingerprint(workspace_importers: Path | None = None, trusted: Collection[str] = ()) -> str:
    """Return the hash over everything that decides how exports are read, without loading a plugin."""
    return sources.digest(workspace_importers, trusted)


def load(
    workspace_importers: Path | None = None, trusted: Collection[str] = (), time_limit: float = TIME_LIMIT
) -> Plugins:
    """Load the shipped plugins, the layouts of the workspace, and the code that is trusted.

    Parameters
    ----------
    workspace_importers
        Folder of the workspace with a folder for each local importer. Layouts are data and always loaded.
    trusted
        Installed distributions and local code that may run (`plugins.trust.Trust`). All other code is left alone
        before it is imported, and named in `problems`.
    time_limit
        Seconds a plugin in code may take over one question.
    """
    builder = _Builder(workspace_importers, Trust(trusted), time_limit)
    importers = tuple(builder.importers())
    return Plugins(importers, fingerprint(workspace_importers, trusted), builder)


def of_workspace(folder: Path) -> Plugins:
    """Load what a run in a workspace would load; outside a workspace, what is shipped.

    The settings are read as they stand: whether they are right is the pipeline's to say.
    """
    path = folder / "mixledger.toml"
    if not path.is_file():
        return load()
    given = tomllib.loads(path.read_text("utf-8")).get("plugins", {})
    limit = float(given.get("time_limit_seconds", TIME_LIMIT))
    return load(folder / "importers", tuple(given.get("trusted", ())), limit)


def load_renderers(trusted: Collection[str] = (), time_limit: float = TIME_LIMIT) -> Plugins:
    """Load what renders and nothing else: no importer is imported or asked."""
    return Plugins((), "", _Builder(None, Trust(trusted), time_limit))


class _Builder:
    """Walks the sources in the order in which names are taken: shipped, installed, local."""

    def __init__(self, folder: Path | None, trust: Trust, time_limit: float) -> None:
        self.problems: list[str] = []
        self.known: list[Known] = []
        self._folder = folder
        self._trust = trust
        self._limit = time_limit
        self._taken: set[tuple[str, str]] = set()

    def importers(self) -> Iterator[Importer]:
        shipped = sources.HERE / "importers"
        yield from self._layouts(shipped, "shipped")
        names = [f"plugins.importers.{path.parent.name}.importer" for path in sources.code(shipped)]
        yield from cast("Iterator[Importer]", self._shipped(names, "mixledger_importers", "importer"))
        yield from cast("Iterator[Importer]", self._installed(sources.IMPORTERS, "importer"))
        if self._folder is not None:
            yield from self._layouts(self._folder, "local")
            yield from self._local_code(self._folder)

    def renderers(self) -> Iterator[Renderer]:
        modules = sources.renderer_modules()
        yield from cast("Iterator[Renderer]", self._shipped(modules, "mixledger_renderers", "renderer"))
        yield from cast("Iterator[Renderer]", self._installed(sources.RENDERERS, "renderer"))

    def _layouts(self, folder: Path, origin: Origin) -> Iterator[LayoutImporter]:
        whose = "" if origin == "shipped" else "the workspace's "
        for path in sources.layouts(folder):
            try:
                importer = LayoutImporter.load(path)
            except (LayoutError, OSError) as fault:
                self.problems.append(f"{whose}layout was not loaded: {fault}")
                continue
            if importer.name != path.parent.name:
                self.problems.append(
                    f"{whose}{path.parent.name}/{path.name} was not loaded: its name is '{importer.name}'"
                )
                continue
            trust = "shipped" if origin == "shipped" else "data"
            known = Known(importer.name, "importer", origin, trust, importer.version, "", importer.gives, path.parent)
            if self._take(known):
                yield importer

    def _shipped(self, modules: list[str], hook: str, kind: Kind) -> Iterator[object]:
        manager = pluggy.PluginManager(_PROJECT)
        manager.add_hookspecs(hookspecs)
        for name in modules:
            self._register(manager, name, partial(importlib.import_module, name))
        for one in self._collect(manager, hook):
            known = Known(
                str(getattr(one, "name", "")),
                kind,
                "shipped",
                "shipped",
                str(getattr(one, "version", "")),
                "",
                tuple(getattr(one, "gives", ())),
                folder_of(one),
            )
            if self._take(known):
                yield one

    def _register(self, manager: pluggy.PluginManager, name: str, make: Callable[[], object]) -> None:
        """Import and register one plugin; a fault of its own is a problem to report, not a reason to stop."""
        try:
            manager.register(make(), name)
        except Exception as fault:
            self.problems.append(_sentence(name, fault))

    def _collect(self, manager: pluggy.PluginManager, hook: str) -> Iterator[object]:
        """Call a hook plugin by plugin, so that one that fails is named and the others still count."""
        plugins = [(name, plugin) for name, plugin in manager.list_name_plugin() if plugin is not None]
        for name, plugin in plugins:
            caller = manager.subset_hook_caller(hook, [other for _, other in plugins if other is not plugin])
            try:
                yield from (item for given in caller() for item in given)
            except Exception as fault:
                self.problems.append(_sentence(name, fault))

    def _installed(self, group: str, kind: Kind) -> Iterator[object]:
        for one in sources.installed():
            if one.point.group != group:
                continue
            decision = self._trust.installed(one)
            if not decision.allowed:
                self._leave(
                    Known(one.point.name, kind, "installed", decision.word, one.version, one.distribution),
                    decision.sentence,
                )
                continue
            what = {"group": group, "name": one.point.name, "value": one.point.value}
            known = Known(one.point.name, kind, "installed", "trusted", one.version, one.distribution)
            yield from self._apart(what, known, f" ({one.distribution} {one.version})")

    def _local_code(self, folder: Path) -> Iterator[Importer]:
        for one in sources.local_code(folder):
            known = Known(one.path.parent.name, "importer", "local", "trusted", place=one.path.parent)
            decision = self._trust.local(one)
            if not decision.allowed:
                self._leave(Known(known.name, "importer", "local", decision.word, place=known.place), decision.sentence)
                continue
            what = {"path": str(one.path.absolute()), "sha256": one.sha256}
            yield from cast("Iterator[Importer]", self._apart(what, known, f"+{one.sha256[:12]}"))

    def _apart(self, what: dict[str, str], about: Known, mark: str) -> Iterator[object]:
        """Load one plugin in its own process and yield what speaks for it here."""
        process = Process(what, self._limit)
        title = f"{about.package or 'the workspace'}: {about.name}"
        try:
            offer = process.load()
        except PluginFailedError as fault:
            failed = Known(about.name, about.kind, about.origin, "failed", about.version, about.package)
            self._leave(failed, f"'{title}' failed and was left out: {fault}")
            return
        self.problems.extend(f"'{title}': {fault}; it was left out" for fault in offer["faults"])
        for which, each in enumerate(offer[f"{about.kind}s"]):
            place = Path(each["place"])
            version = each.get("version", about.version) + mark
            gives = tuple(each.get("gives", ()))
            known = Known(each["name"], about.kind, about.origin, "trusted", version, about.package, gives, place)
            if not self._take(known):
                continue
            if about.kind == "importer":
                yield ApartImporter(known.name, version, gives, place, process, which)
            else:
                yield ApartRenderer(known.name, place, process, which, each.get("on_request"))

    def _leave(self, known: Known, sentence: str) -> None:
        self.known.append(known)
        self.problems.append(sentence)

    def _take(self, known: Known) -> bool:
        """Take a name: the first keeps it, and shipped plugins come first."""
        if (known.kind, known.name) in self._taken:
            sentence = f"a second {known.kind} called '{known.name}' was not loaded: choose another name"
            self.problems.append(sentence)
            return False
        self._taken.add((known.kind, known.name))
        self.known.append(known)
        return True


def _sentence(name: str, fault: Exception) -> str:
    return f"'{name}' failed and was left out: {type(fault).__name__}: {fault}".split("\n")[0]
