"""File -> kept bytes under their hash, new or known. Files of the inbox are read, never changed or removed."""

import hashlib
import json
import os
from collections.abc import Callable, Collection, Iterator
from datetime import UTC, datetime
from operator import itemgetter
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import NamedTuple

from pipeline.workspace import Workspace

_CHUNK = 1 << 20
_SYNC_EACH_BELOW = 64


class Sighting(NamedTuple):
    """A file of the inbox as the file system shows it."""

    name: str
    size: int
    mtime_ns: int


class Arrival(NamedTuple):
    """A file whose bytes are kept: one line of the journal.

    Attributes
    ----------
    name
        Path below the inbox, with forward slashes.
    hash
        SHA-256 of the bytes, under which they are kept.
    received_at
        UTC, ISO 8601.
    """

    name: str
    hash: str
    size: int
    mtime_ns: int
    received_at: str

    def sighting(self) -> Sighting:
        """Return the file as it was when it was taken in."""
        return Sighting(self.name, self.size, self.mtime_ns)


def sightings(inbox: Path) -> Iterator[Sighting]:
    """Walk the inbox: regular files only, no links, no hidden files, in a fixed order."""
    folders = [("", str(inbox))]
    while folders:
        prefix, folder = folders.pop()
        with os.scandir(folder) as entries:
            for entry in sorted(entries, key=lambda each: each.name):
                if entry.name.startswith("."):
                    continue
                if entry.is_dir(follow_symlinks=False):
                    folders.append((f"{prefix}{entry.name}/", entry.path))
                elif entry.is_file(follow_symlinks=False):
                    stat = entry.stat(follow_symlinks=False)
                    yield Sighting(f"{prefix}{entry.name}", stat.st_size, stat.st_mtime_ns)


def journal(workspace: Workspace) -> list[Arrival]:
    """Read the journal; a last line torn by a crash is left out (its file will be seen as new again)."""
    if not workspace.journal.exists():
        return []
    lines = (line for line in workspace.journal.read_bytes().split(b"\n") if line.endswith(b"}"))
    # One decoding for all: tens of thousands of lines are read at every start.
    read = itemgetter(*Arrival._fields)
    return [Arrival._make(read(line)) for line in json.loads(b"[" + b",".join(lines) + b"]")]


def unseen(workspace: Workspace, known: list[Arrival]) -> list[Sighting]:
    """Return the files of the inbox that are new or have changed since they were taken in."""
    seen = {arrival.name: arrival.sighting() for arrival in known}
    return [each for each in sightings(workspace.inbox) if seen.get(each.name) != each]


def _keep(workspace: Workspace, sighting: Sighting) -> Arrival | None:
    """Copy one file under its hash; None when it changed while it was read (the next run takes it)."""
    source = workspace.inbox / sighting.name
    digest = hashlib.sha256()
    with source.open("rb") as reading, NamedTemporaryFile(dir=workspace.kept, delete=False) as writing:
        while chunk := reading.read(_CHUNK):
            digest.update(chunk)
            writing.write(chunk)
        after = os.fstat(reading.fileno())
    copy = Path(writing.name)
    if (after.st_size, after.st_mtime_ns) != (sighting.size, sighting.mtime_ns):
        copy.unlink()
        return None
    target = workspace.kept_file(digest.hexdigest())
    if target.exists():
        copy.unlink()
    else:
        target.parent.mkdir(exist_ok=True)
        copy.replace(target)
    received = datetime.now(UTC).replace(tzinfo=None).isoformat(timespec="microseconds")
    return Arrival(sighting.name, digest.hexdigest(), sighting.size, sighting.mtime_ns, received)


def _settle_on_disk(workspace: Workspace, arrivals: list[Arrival]) -> None:
    """Make the kept bytes durable before the journal says they are there."""
    if len(arrivals) >= _SYNC_EACH_BELOW and hasattr(os, "sync"):
        os.sync()
        return
    for arrival in arrivals:
        with workspace.kept_file(arrival.hash).open("rb+") as kept:
            os.fsync(kept.fileno())


def _note(workspace: Workspace, arrivals: list[Arrival]) -> None:
    """Append to the journal, after closing a line a crash may have torn."""
    with workspace.journal.open("ab+") as out:
        if out.seek(0, os.SEEK_END):
            out.seek(-1, os.SEEK_END)
            out.write(b"" if out.read(1) == b"\n" else b"\n")
        out.writelines(json.dumps(arrival._asdict()).encode() + b"\n" for arrival in arrivals)
        out.flush()
        os.fsync(out.fileno())


def take_in(
    workspace: Workspace,
    known: list[Arrival],
    only: Collection[Sighting] | None = None,
    step: Callable[[int], None] = lambda _: None,
) -> tuple[list[Arrival], list[str]]:
    """Keep every new file of the inbox.

    Parameters
    ----------
    only
        Take these and leave the others for a later pass (`serve` names the files that have settled); None takes all.

    Returns
    -------
    The arrivals, and one sentence for each file that could not be kept now (it stays in the inbox for the next run).
    """
    arrivals, problems = [], []
    for sighting in unseen(workspace, known):
        if only is not None and sighting not in only:
            continue
        try:
            arrival = _keep(workspace, sighting)
        except OSError as fault:
            problems.append(f"{sighting.name}: cannot be read ({fault.strerror}); mend its permissions and run again.")
            continue
        if arrival is None:
            problems.append(f"{sighting.name}: changed while it was read; the next run takes it.")
        else:
            arrivals.append(arrival)
        step(1)
    if arrivals:
        _settle_on_disk(workspace, arrivals)
        _note(workspace, arrivals)
    return arrivals, problems
