"""Makes the warehouse anew from the kept exports, compares it with the old one, and puts it in its place."""

import shutil
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline import contents, intake, state
from pipeline.order import Executor, store_pending
from pipeline.progress import Progress, Quiet
from pipeline.settings import Settings
from pipeline.workspace import Workspace

if TYPE_CHECKING:
    import polars as pl


@dataclass(frozen=True)
class Rebuilt:
    """A rebuilt warehouse: how many exports it rests on, and the rows in which it differs from the one before."""

    exports: int
    differences: "dict[str, pl.DataFrame]"


def rebuild(
    workspace: Workspace,
    settings: Settings,
    executor: Executor,
    progress: Progress | None = None,
    wait_seconds: float = 0,
) -> Rebuilt:
    """Read every kept export again into a fresh warehouse and exchange it for the old one.

    What was reported when (validity by run) begins anew: it rests on the order of the runs that were.

    Raises
    ------
    StoreBusyError
        When another process is writing to this workspace, and still is after `wait_seconds`.
    """
    from warehouse.lock import writer

    aside = replace(workspace, store_name="store/rebuilding", series_name="series.rebuilding")
    with writer(workspace.store, wait_seconds):
        _clear(aside)
        for folder in (aside.store, aside.series):
            folder.mkdir(parents=True)
        journal = intake.journal(workspace)
        marks, outcome = store_pending(aside, settings, executor, progress or Quiet(), journal, state.State())
        _make_sure(aside)
        before = _before(workspace)
        _exchange(workspace, aside)
        # Pages are owed again: their figures may differ.
        state.save(workspace, replace(marks, rendered=0))
        found = contents.differences(before, contents.contents(workspace.root)) if before else {}
    return Rebuilt(outcome.exports, found)


def _make_sure(aside: Workspace) -> None:
    """Make an empty store where no export was kept, and so nothing was stored."""
    from pipeline.update import describe_catalogue
    from warehouse.store import open_store
    from warehouse.working import WORKING_NAME

    if not (aside.store / WORKING_NAME).is_file():
        with open_store(aside.store, aside.series) as fresh:
            describe_catalogue(fresh)


def _before(workspace: Workspace) -> "dict[str, pl.DataFrame] | None":
    """Return what the old warehouse says; None where there is none or its schemas are not ours."""
    from duckdb import Error

    from warehouse.errors import NotPublishedError

    try:
        return contents.contents(workspace.root)
    except (NotPublishedError, Error):
        return None


def _clear(aside: Workspace) -> None:
    for folder in (aside.store, aside.series):
        if folder.exists():
            shutil.rmtree(folder)


def _exchange(workspace: Workspace, aside: Workspace) -> None:
    """Move parts first, then the store, then publish: at every moment a reader finds a whole warehouse."""
    from warehouse.publish import publish
    from warehouse.store import open_store
    from warehouse.working import WORKING_NAME

    for part in aside.series.rglob("*.parquet"):
        target = workspace.series / part.relative_to(aside.series)
        target.parent.mkdir(parents=True, exist_ok=True)
        part.replace(target)
    state.save(workspace, state.State())
    _drop_log(workspace.store / WORKING_NAME)
    (aside.store / WORKING_NAME).replace(workspace.store / WORKING_NAME)
    with open_store(workspace.store, workspace.series) as store:
        publish(store)
    _clear(aside)


def _drop_log(working: Path) -> None:
    """Remove the write-ahead log of the store that is replaced; it must not be replayed into the new one."""
    working.with_name(working.name + ".wal").unlink(missing_ok=True)
