"""Working store -> published copy, so that a reader sees one whole run or the one before."""

import filecmp
from pathlib import Path

from warehouse import files
from warehouse.sql import run
from warehouse.store import Store
from warehouse.working import WORKING_NAME

#: Folder of the published copies, and the small text file that names the one to read; below the store folder.
FOLDER_NAME = "published"
POINTER_NAME = "current"

_STEM = "mixledger-"
_SUFFIX = ".duckdb"


def published(store_folder: Path) -> Path | None:
    """Return the published copy the pointer names; None if nothing was published or it is gone."""
    missed: Path | None = None
    while True:
        try:
            name = (store_folder / POINTER_NAME).read_text(encoding="utf-8").strip()
        except FileNotFoundError:
            return None
        path = store_folder / FOLDER_NAME / Path(name).name
        if path.is_file():
            return path
        if path == missed:
            return None
        # Two publications may have come between reading the pointer and looking for its file.
        missed = path


def publish(store: Store) -> Path:
    """Publish what is committed, and return the path of the copy.

    The store is closed while its file is copied: closing writes everything into that one file, and a second
    descriptor of an open DuckDB file would take its lock away (POSIX) or be refused (Windows). A copy never takes the
    name of another one, since a process that has the other open would be given the old state. The copy before the
    last one is removed, unless a reader keeps it open.

    A plain copy of the file was chosen by measurement: at ten years of laboratories (165 MB) it takes about a
    hundredth of the processor time of a compact copy or of Parquet, for it moves bytes and decodes none; the long
    series, which are most of the bytes, are never copied. `python -m tests.benchmarks.history` times it.

    Parameters
    ----------
    store
        The working store, outside a transaction; it is open again afterwards.
    """
    run_id = store.next_run() - 1
    store.refresh_macros()
    run(store.connection, "CHECKPOINT")
    store.close()
    try:
        return _exchange(store.folder, run_id)
    finally:
        store.reopen()


def _exchange(store_folder: Path, run_id: int) -> Path:
    working, folder = store_folder / WORKING_NAME, store_folder / FOLDER_NAME
    folder.mkdir(parents=True, exist_ok=True)
    previous = published(store_folder)
    if previous and previous.stem.split("-")[1] == str(run_id) and filecmp.cmp(working, previous, shallow=False):
        _clear(folder, {previous})
        return previous
    target = _free_name(folder, run_id)
    files.copy(working, target)
    files.write_text(store_folder / POINTER_NAME, target.name + "\n")
    _clear(folder, {target, previous} if previous else {target})
    return target


def _free_name(folder: Path, run_id: int) -> Path:
    """Return the run's file name, or with a further number where a run was published before."""
    target, further = folder / f"{_STEM}{run_id}{_SUFFIX}", 1
    while target.exists():
        further += 1
        target = folder / f"{_STEM}{run_id}-{further}{_SUFFIX}"
    return target


def _clear(folder: Path, kept: set[Path]) -> None:
    for path in folder.iterdir():
        if path not in kept:
            files.remove(path)
