"""The public name for plugin authors: everything in `plugins.api`."""

from plugins.api import (
    REFUSALS,
    Artefact,
    Export,
    Importer,
    Reading,
    Renderer,
    Scope,
    hookimpl,
    refusals,
)

__all__ = [
    "REFUSALS",
    "Artefact",
    "Export",
    "Importer",
    "Reading",
    "Renderer",
    "Scope",
    "hookimpl",
    "refusals",
]
