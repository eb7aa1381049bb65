"""The public name for plugin authors: everything in `plugins.api`, which documents it."""

from typing import TYPE_CHECKING, Any

from plugins.api import (
    CATALOGUE,
    HEAD_BYTES,
    READ_LIMIT,
    Artefact,
    Export,
    Importer,
    Reading,
    Refusing,
    Renderer,
    Scope,
    TooLargeError,
    decode,
    folder_of,
    from_layout,
    hookimpl,
    no_refusals,
    refusals,
    remedy_of,
)

if TYPE_CHECKING:
    from plugins.api import REFUSALS, ImporterContract, RendererContract

__all__ = [
    "CATALOGUE",
    "HEAD_BYTES",
    "READ_LIMIT",
    "REFUSALS",
    "Artefact",
    "Export",
    "Importer",
    "ImporterContract",
    "Reading",
    "Refusing",
    "Renderer",
    "RendererContract",
    "Scope",
    "TooLargeError",
    "decode",
    "folder_of",
    "from_layout",
    "hookimpl",
    "no_refusals",
    "refusals",
    "remedy_of",
]


def __getattr__(name: str) -> Any:
    # What needs polars or the contract kit is loaded only when it is asked for.
    if name in __all__:
        import plugins.api

        return getattr(plugins.api, name)
    raise AttributeError(f"module 'mixledger.plugin' has no attribute '{name}'")
