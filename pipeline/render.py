"""Reads the published store, hands frames to the renderers, writes their pages: only what changed."""

import os
from pathlib import Path

from pipeline import tables
from pipeline.settings import Settings
from pipeline.workspace import Workspace
from plugins.api import Artefact


class UnsafePathError(ValueError):
    """A renderer named a file outside the folder of the pages."""


def render(workspace: Workspace, settings: Settings, since: int) -> int:
    """Render what has changed after run `since` (0: everything) and return how many files were written."""
    from plugins.manager import load
    from warehouse.read import connect

    with connect(workspace.root) as connection:
        scope = tables.scope(connection, since)
        frames = tables.gather(connection, workspace, settings.results, scope)
    written = 0
    for renderer in load(workspace.importers, settings.plugins.trusted).renderers:
        written += sum(_write(workspace.pages, artefact) for artefact in renderer.render(frames, scope))
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
