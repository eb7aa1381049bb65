"""Which files of the inbox have settled: unchanged for so long that nobody is writing them any more."""

import json
import os
import time
from collections.abc import Callable, Iterable
from pathlib import Path

from pipeline.intake import Sighting
from pipeline.workspace import Workspace


class Watch:
    """Looks at the inbox again and again, and tells what has not changed between the looks.

    How long a file has been the same is taken from the looks and a clock that never jumps, not from the time stamp of
    the file: copying may set that to any time, and the clock of a network share may differ from ours.

    Parameters
    ----------
    settle_seconds
        How long size and time stamp must have stayed the same.
    clock
        Seconds, never going back.
    """

    def __init__(self, settle_seconds: float, clock: Callable[[], float] = time.monotonic) -> None:
        self._settle_seconds = settle_seconds
        self._clock = clock
        self._since: dict[Sighting, float] = {}

    def look(self, waiting: Iterable[Sighting]) -> frozenset[Sighting]:
        """Take note of the files that wait now, and return those that have settled."""
        now = self._clock()
        # A file that has changed is another sighting, so its time starts anew; one that has gone is forgotten.
        self._since = {each: self._since.get(each, now) for each in waiting}
        return frozenset(each for each, since in self._since.items() if now - since >= self._settle_seconds)


def _path(workspace: Workspace) -> Path:
    return workspace.store / "settled.json"


def note(workspace: Workspace, settled: Iterable[Sighting]) -> None:
    """Write down which files have settled, for the passes that `serve` starts in processes of their own."""
    aside = _path(workspace).with_suffix(".new")
    rows = sorted((each.name, each.size, each.mtime_ns) for each in settled)
    with aside.open("w", encoding="utf-8") as out:
        json.dump(rows, out)
        out.flush()
        os.fsync(out.fileno())
    aside.replace(_path(workspace))


def noted(workspace: Workspace) -> frozenset[Sighting]:
    """Return the files that had settled at the last look; none where there is no note.

    An old note does no harm: a file that has changed since is not the one that was noted.
    """
    try:
        rows = json.loads(_path(workspace).read_text(encoding="utf-8"))
        return frozenset(Sighting(str(name), int(size), int(mtime_ns)) for name, size, mtime_ns in rows)
    except (OSError, ValueError, TypeError):
        return frozenset()
