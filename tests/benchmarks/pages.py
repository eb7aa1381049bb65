"""Pages of a long history: `python -m tests.benchmarks.pages [--full]`: time and size of pages, and after one export.

Fills a store as `tests.benchmarks.history` does; `--keep` uses a folder again. Times are of the processors.
"""

import argparse
import re
import shutil
import tempfile
import time
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from pipeline import settings, state, tables, workspace
from pipeline.render import requested
from pipeline.render import write as write_page
from pipeline.settings import Settings
from pipeline.workspace import Workspace
from plugins.api import Artefact, Scope
from plugins.sources import pages_digest
from tests.benchmarks.history import FULL, SMALL, fill, one_export, timed
from tests.support import run
from warehouse.read import connect

#: What is aimed at: seconds of processor per page rendered alone, bytes of a page.
SECONDS, BYTES = 1.0, 1_500_000
_OUTSIDE = re.compile(rb"""(?:src|href)\s*=\s*["']?\s*(?:https?:)?//|url\(\s*["']?(?:https?:)?//|@import""", re.I)
_PROJECTS = "select project_id from samples where project_id is not null group by 1 order by count(*) desc, 1 limit 1"
_SAMPLES = "select sample_id from samples where project_id = ? order by taken_on desc, sample_id limit 1"


def keep_bytes(at: Workspace) -> None:
    """Put the bytes of the exports the store names where raw lines are looked up: invented, a line per row."""
    with connect(at.root) as connection:
        names = connection.execute("select export_hash from exports").fetchall()
    content = b"".join(b"%d;2016-04-14 09:1%d:05;label;1;bulk;dry;;4712.3;\n" % (line, line % 10) for line in range(40))
    # A Python loop over files, not over rows.
    for (name,) in names:
        path = at.kept_file(name)
        if not path.exists():
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)


def made(at: Workspace, chosen: Settings, scope: Scope) -> tuple[tuple[Artefact, ...], float, float]:
    """Return the pages of a scope, and the processor seconds of reading the tables and of rendering."""
    began = time.process_time()
    with connect(at.root) as connection:
        frames = tables.gather(connection, at, chosen.results, scope)
    read = time.process_time()
    artefacts = requested(chosen, frames, scope).artefacts
    return artefacts, read - began, time.process_time() - read


def kind(page: Artefact) -> str:
    """Return what a page shows, by its path."""
    return page.path.split("/")[0].removesuffix(".html")


def told(pages: Iterable[Artefact]) -> None:
    """Print, per kind, how many pages, and the largest; say which miss the size, and which fetch something."""
    by_kind: dict[str, list[Artefact]] = {}
    for page in pages:
        by_kind.setdefault(kind(page), []).append(page)
    for name, own in by_kind.items():
        largest = max(own, key=lambda page: len(page.content))
        size = len(largest.content)
        beyond = sum(len(page.content) > BYTES for page in own)
        print(
            f"  {name:<8} {len(own):7d} pages   largest {size / 1e3:8.0f} kB, {size / BYTES:5.2f} of what is aimed at"
            f"{f'; {beyond} beyond it' if beyond else ''}   {largest.path}",
            flush=True,
        )
    fetching = [page.path for page in pages if _OUTSIDE.search(bytes(page.content))]
    print(f"  pages that fetch something: {len(fetching)} {fetching[:3] or ''}")


def alone(at: Workspace, chosen: Settings) -> None:
    """Print what one page of each kind takes: those of the project with most samples, its mixes, its last sample."""
    from plugins.manager import load_renderers

    with connect(at.root) as connection:
        project = connection.execute(_PROJECTS).fetchall()[0][0]
        sample = connection.execute(_SAMPLES, [project]).fetchall()[0][0]
        scope = Scope(frozenset({project}), frozenset({sample}))
        began = time.process_time()
        frames = tables.gather(connection, at, chosen.results, scope)
        print(f"  {'tables of one project':<28} {time.process_time() - began:7.2f} s")
    for renderer in load_renderers(chosen.plugins.trusted).renderers:
        if getattr(renderer, "on_request", None) is None:
            list(renderer.render(frames, scope))  # loads what it needs, once per run
            began = time.process_time()
            pages = list(renderer.render(frames, scope))
            each = (time.process_time() - began) / max(len(pages), 1)
            print(
                f"  {renderer.name:<8} {len(pages):4d} pages   {each:7.3f} s a page, {each / SECONDS:5.2f} of the aim"
            )


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--full", action="store_true", help="ten years, 25 laboratories, 250,000 samples")
    parser.add_argument("--samples", type=int, help="another number of samples, over ten years")
    parser.add_argument("--keep", type=Path, help="folder to keep the workspace in; used again if it is there")
    parser.add_argument("--only-one", action="store_true", help="leave out rendering everything from scratch")
    return parser.parse_args()


def main() -> None:
    """Fill, render everything, one page of each kind, and what one new export changes; print what each took."""
    given = _options()
    size = replace(FULL, samples=given.samples) if given.samples else FULL if given.full else SMALL
    folder = given.keep or Path(tempfile.mkdtemp())
    fresh = not (folder / "lab").exists()
    at = workspace.create(folder / "lab")
    if fresh:
        with timed("filling"):
            fill(at, size)
    keep_bytes(at)
    chosen = settings.load(at.root)
    print("one page of each kind, of the project with most samples", flush=True)
    alone(at, chosen)
    if not given.only_one:
        pages, read, drawn = made(at, chosen, Scope())
        print(f"all {len(pages)} pages from scratch: tables {read:.1f} s, rendering {drawn:.1f} s")
        told(pages)
        for page in pages:
            write_page(at.pages, page)
        marks = state.load(at)
        digest = pages_digest(chosen.plugins.trusted, repr(chosen.pages))
        state.save(at, replace(marks, renderers=digest, rendered=marks.stored))
        one_export(at, int(time.time()) % 1000)
        with timed("what one new export changed"):
            changed = run(at, pages=True)
        print(f"  {changed.pages} pages of {len(pages)} written anew")
    if given.keep is None:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()
