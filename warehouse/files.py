"""Files that are whole or not there at all: written aside, flushed to the disk, renamed."""

import os
import shutil
import time
from contextlib import suppress
from pathlib import Path

#: Ending of a file that is still being written; whoever finds one later may delete it.
UNFINISHED = ".unfinished"

_ATTEMPTS = 20
_PAUSE_SECONDS = 0.05


def aside(target: Path) -> Path:
    """Return the name under which a file is written before it is renamed to `target`."""
    return target.with_name(target.name + UNFINISHED)


def _sync_folder(folder: Path) -> None:
    # Windows has no descriptor for a folder: there the rename itself is journalled.
    if os.name == "nt":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def settle(unfinished: Path, target: Path) -> None:
    """Flush a written file to the disk and give it its final name, replacing what stood there."""
    with unfinished.open("rb+") as stream:
        os.fsync(stream.fileno())
    for attempt in range(_ATTEMPTS):
        try:
            unfinished.replace(target)
            break
        except PermissionError:
            # Windows refuses while a reader has the old file open: a matter of milliseconds for a pointer file.
            if attempt == _ATTEMPTS - 1:
                raise
            time.sleep(_PAUSE_SECONDS)
    _sync_folder(target.parent)


def write_text(target: Path, text: str) -> None:
    """Write a small text file so that a reader sees the old or the new text, never a part of it."""
    unfinished = aside(target)
    unfinished.write_text(text, encoding="utf-8")
    settle(unfinished, target)


def copy(source: Path, target: Path) -> None:
    """Copy a file so that `target` is whole or not there."""
    unfinished = aside(target)
    shutil.copyfile(source, unfinished)
    settle(unfinished, target)


def remove(path: Path) -> None:
    """Delete a file; where someone still has it open, leave it for the next time."""
    with suppress(OSError):
        path.unlink(missing_ok=True)
