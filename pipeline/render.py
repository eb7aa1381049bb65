"""Reads the published store, hands frames to the renderers, writes their pages: only what changed."""

import os
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import tables
from pipeline.settings import Settings
from pipeline.workspace import Workspace
from plugins.api import Artefact, Renderer, Scope

if TYPE_CHECKING:
    import polars as pl


class UnsafePathError(ValueError):
    """A renderer named a file outside the folder of the pages."""


@dataclass(frozen=True)
class Rendered:
    """How many files were written, and a sentence for each renderer or page that was left out."""

    files: int
    problems: tuple[str, ...] = ()


def render(workspace: Workspace, settings: Settings, since: int) -> Rendered:
    """Render what changed after run `since` (0: everything); a package's renderer that fails costs its own pages."""
    from warehouse.read import connect

    with connect(workspace.root) as connection:
        scope = tables.scope(connection, since)
        frames = tables.gather(connection, workspace, settings.results, scope)
    return _render(settings, frames, scope, workspace.pages)


def render_bare(workspace: Workspace, settings: Settings) -> Rendered:
    """Render the pages of a workspace in which nothing was ever stored: they say so, and what to do."""
    import polars as pl

    from plugins.renderers.verbs.tables import TABLES
    from warehouse.publish import published

    if published(workspace.store):  # the marks were lost, not the warehouse
        return render(workspace, settings, 0)
    frames = {name: pl.DataFrame(schema=schema) for name, schema in TABLES.items()}
    return _render(settings, frames, Scope(), workspace.pages)


def render_as_of(workspace: Workspace, settings: Settings, moment: str, folder: Path) -> Rendered:
    """Render every page as it would have been at a moment into another folder.

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
    return _render(settings, frames, scope, folder)


def _render(settings: Settings, frames: Mapping[str, "pl.DataFrame"], scope: Scope, folder: Path) -> Rendered:
    made = requested(settings, frames, scope)
    return Rendered(sum(write(folder, artefact) for artefact in made.artefacts), made.problems)


@dataclass(frozen=True)
class Made:
    """What renderers gave, and a sentence for each renderer that was left out."""

    artefacts: tuple[Artefact, ...]
    problems: tuple[str, ...] = ()


def requested(
    settings: Settings, frames: Mapping[str, "pl.DataFrame"], scope: Scope, on_request: str | None = None
) -> Made:
    """Return what the renderers of a format make; a package's renderer that fails costs its own artefacts.

    Parameters
    ----------
    frames
        The tables in stored units; the renderers get them as the workspace asks to see them.
    on_request
        Format that is asked for; None: the pages every run renders.
    """
    from pipeline.presenting import dressed
    from pipeline.rounding import Rule
    from plugins.manager import load_renderers

    plugins = load_renderers(settings.plugins.trusted, settings.plugins.time_limit_seconds)
    shown = dressed(frames, settings.pages, Rule(settings.results.rounding))
    asked = [each for each in plugins.renderers if getattr(each, "on_request", None) == on_request]
    # Only once the renderers are loaded is it known whose they are.
    strangers = {each.name for each in plugins.known if each.kind == "renderer" and each.origin != "shipped"}
    given_way, problems = _replaced(settings.pages.replaced, asked, strangers) if on_request is None else ({}, [])
    artefacts: list[Artefact] = []
    for renderer in asked:
        if renderer.name in given_way:
            continue
        if renderer.name not in strangers:
            artefacts += renderer.render(shown, scope)
            continue
        pages = [page for page, by in given_way.items() if by == renderer.name]
        try:
            artefacts += [_own(artefact, renderer.name, pages) for artefact in renderer.render(shown, scope)]
        except Exception as fault:  # a crashing renderer hurts only its own pages
            problems.append(f"renderer '{renderer.name}' failed, its pages were left as they are: {fault}")
    return Made(tuple(artefacts), (*plugins.problems, *problems))


def _replaced(
    wanted: Mapping[str, str], asked: Sequence[Renderer], strangers: Collection[str]
) -> tuple[dict[str, str], list[str]]:
    """Return shipped page -> renderer in its place, and a sentence for each wish that cannot be met."""
    met, problems = {}, []
    shipped = sorted(each.name for each in asked if each.name not in strangers)
    there = {each.name for each in asked} & set(strangers)
    for page, by in wanted.items():
        if page not in shipped:
            problems.append(f"[pages] replaced: there is no shipped page '{page}', only {', '.join(shipped)}")
        elif by not in there:
            problems.append(f"[pages] replaced: no trusted package has a renderer '{by}'; '{page}' is the shipped page")
        else:
            met[page] = by
    return met, problems


def _own(artefact: Artefact, name: str, pages: Collection[str]) -> Artefact:
    """Return the artefact of a package's renderer.

    It may write below a folder of its own name, and the files of the shipped pages it replaces: `<page>.html` and what
    lies below `<page>/`.
    """
    parts = artefact.path.split("/")
    sound = all(part.strip(". ") for part in parts) and "\\" not in artefact.path
    allowed = parts[0] in {name, *pages} if len(parts) > 1 else artefact.path in {f"{page}.html" for page in pages}
    if not sound or not allowed:
        raise UnsafePathError(f"it named the file '{artefact.path}', which does not lie below '{name}/'")
    return artefact


def write(folder: Path, artefact: Artefact) -> bool:
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
