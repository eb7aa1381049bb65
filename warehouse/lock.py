"""One writer: who, since when, on which machine."""

import json
import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from filelock import FileLock, Timeout

from warehouse import files
from warehouse.errors import StoreBusyError

#: The file the kernel locks; a killed process frees it at once.
LOCK_NAME = "lock"

#: The note beside it: on Windows a locked file cannot be read by others.
NOTE_NAME = "lock.holder"

_REMEDY = "Wait until it has finished, or end that process, and start again."


def busy(store_folder: Path) -> StoreBusyError:
    """Return the error that names who holds the store, as far as the note beside the lock tells."""
    try:
        note = json.loads((store_folder / NOTE_NAME).read_text(encoding="utf-8"))
        sentence = f"The store is being written by process {note['pid']} on {note['host']} since {note['since']}."
    except (OSError, ValueError, KeyError, TypeError):
        sentence = "The store is being written by another process, which left no note of itself."
    return StoreBusyError(sentence, _REMEDY)


def holder(store_folder: Path) -> str | None:
    """Return the sentence that names who is writing the store now; None where nobody is."""
    try:
        with FileLock(store_folder / LOCK_NAME, timeout=0):
            return None
    except Timeout:
        return busy(store_folder).sentence


@contextmanager
def writer(store_folder: Path, wait_seconds: float = 0) -> Iterator[None]:
    """Hold the right to write the store; nobody else has it meanwhile, on this machine or another.

    Parameters
    ----------
    store_folder
        The workspace's store folder; made if it is not there.
    wait_seconds
        How long to wait for a writer that is at work.

    Raises
    ------
    StoreBusyError
        When another process holds it; the sentence names it and since when.
    """
    store_folder.mkdir(parents=True, exist_ok=True)
    lock = FileLock(store_folder / LOCK_NAME, timeout=wait_seconds)
    try:
        lock.acquire()
    except Timeout:
        raise busy(store_folder) from None
    note = {"pid": os.getpid(), "host": socket.gethostname(), "since": f"{datetime.now(UTC):%Y-%m-%d %H:%M:%S} UTC"}
    try:
        files.write_text(store_folder / NOTE_NAME, json.dumps(note))
        yield
    finally:
        files.remove(store_folder / NOTE_NAME)
        lock.release()
