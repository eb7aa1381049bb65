"""Reads the published store, hands frames to the renderers, writes their pages: only what changed."""

import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import tables
from pipeline.settings import Settings
from pipeline.workspace import Workspace
from plugins.api import Artefact, Scope

if TYPE_CHECKING:
    import polars as pl


class UnsafePathError(ValueError):
    """A renderer named a file outside the folder of the pages."""


def render(workspace: Workspace, settings: Settings, since: int) -> int:
    """Render what has changed after run `since` (0: everything) and return how many files were written."""
    from warehouse.read import connect

    with connect(workspace.root) as connection:
        scope = tables.scope(connection, since)
        frames = tables.gather(connection, workspace, settings.results, scope)
    return _render(workspace, settings, frames, scope, workspace.pages)


def render_as_of(workspace: Workspace, settings: Settings, moment: str, folder: Path) -> int:
    """Render every page as it would have been at a moment into another folder; return how many were written.

    Figures, judgements and register are those known then; texts and layout are those of the installed version.

    Raises
    ------
    QueryRefusedError
        When nothing was known yet, or it is no moment.
    """
    from warehouse.read import connect

    scope = Scope()
    with connect(workspace.root, moment) as connection:
        frames = tables.gather(connection, workspace, settings.results, scope)
    folder.mkdir(parents=True, exist_ok=True)
    return _render(workspace, settings, frames, scope, folder)


def _render(
    workspace: Workspace, settings: Settings, frames: Mapping[str, "pl.DataFrame"], scope: Scope, folder: Path
) -> int:
    from plugins.manager import load

    written = 0
    for renderer in load(workspace.importers, settings.plugins.trusted).renderers:
        written += sum(_write(folder, artefact) for artefact in renderer.render(frames, scope))
    return written


def _write(folder: Path, artefact: Artefact) -> bool:
    """Replace one file, if its bytes differ; never outside the folder."""
    target = (folder / artefact.path).resolve()
    if not target.is_relative_to(folder.resolve()):
        raise UnsafePathError(f"a renderer named the file '{artefact.path}', which lies outside {folder}")
    if target.is_file() and target.read_bytes() == artefact.content:
        return False
    target.parent.mkdir(parents=True, exist_ok=True)
    aside = target.with_name(f".{target.name}.{os.getpid()}")
    aside.write_bytes(artefact.content)
    aside.replace(target)
    return True
