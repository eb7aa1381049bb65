"""Imports one plugin inside its own process and asks its hooks what it offers."""

import hashlib
import sys
from difflib import get_close_matches
from importlib.metadata import EntryPoint
from pathlib import Path
from types import ModuleType
from typing import Any

import pluggy

from plugins import hookspecs
from plugins.api import Importer, Renderer
from plugins.sources import IMPORTERS

PROJECT = "mixledger"


def offered(asked: dict[str, Any]) -> tuple[list[Importer], list[Renderer], list[str]]:
    """Return importers, renderers, and a sentence for each thing offered that is neither.

    Parameters
    ----------
    asked
        `group`, `name` and `value` of an entry point, or `path` and `sha256` of local code.

    Raises
    ------
    Exception
        Whatever the plugin raises when it is imported or asked.
    """
    plugin = _local(Path(asked["path"]), asked["sha256"]) if "path" in asked else _installed(asked)
    manager = pluggy.PluginManager(PROJECT)
    manager.add_hookspecs(hookspecs)
    manager.register(plugin)
    _check_hooks(manager)
    importing = asked.get("group", IMPORTERS) == IMPORTERS
    hook = manager.hook.mixledger_importers if importing else manager.hook.mixledger_renderers
    if not hook.get_hookimpls():
        raise LookupError(f"it implements no hook '{hook.name}'; mark a function of that name with @hookimpl")
    kind: type = Importer if importing else Renderer
    found = [item for given in hook() for item in given]
    faults = [f"{item!r:.100} is no {kind.__name__.lower()}" for item in found if not isinstance(item, kind)]
    good: list[Any] = [item for item in found if isinstance(item, kind)]
    return (good, [], faults) if importing else ([], good, faults)


def _installed(asked: dict[str, Any]) -> object:
    return EntryPoint(asked["name"], asked["value"], asked["group"]).load()


def _local(path: Path, sha256: str) -> ModuleType:
    """Run exactly the bytes that were trusted, under a name of their own; the folder is never on the path."""
    content = path.read_bytes()
    if hashlib.sha256(content).hexdigest() != sha256:
        raise PermissionError("it has changed since it was trusted")
    module = ModuleType(f"mixledger_local_{path.parent.name}")
    module.__file__ = str(path)
    sys.modules[module.__name__] = module
    exec(compile(content, str(path), "exec"), module.__dict__)  # noqa: S102 - trusted by hash
    return module


def _check_hooks(manager: pluggy.PluginManager) -> None:
    known = [name for name in vars(hookspecs) if name.startswith("mixledger_")]
    try:
        manager.check_pending()
    except pluggy.PluginValidationError as fault:
        said = str(fault)
        named = next((word for word in said.replace("'", " ").split() if word.startswith("mixledger_")), "")
        near = get_close_matches(named, known, n=1)
        hint = f"; did you mean '{near[0]}'?" if near else f"; known are {', '.join(known)}"
        raise LookupError(f"there is no hook '{named}'{hint}") from fault
