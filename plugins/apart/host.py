"""The pipeline's side: starts a plugin's process, asks it with a time limit, and speaks for it."""

import json
import subprocess
import sys
import threading
import weakref
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, cast

from plugins.apart import wire
from plugins.api import Artefact, Export, Reading, Refusing, Scope, no_refusals, refusals
from plugins.promise import broken
from plugins.purity import unwatched

if TYPE_CHECKING:
    import polars as pl

#: Exports a plugin is asked to read at once: what is lost with a crash is read again one by one.
PORTION = 64

#: A plugin that dies or hangs so often in a row is left out for the rest of the run.
STRIKES = 3

#: Seconds a process may take to start and to import our own libraries, which is not the plugin's to answer for.
WARMING = 120.0

_BOOT = "import sys, json; sys.path[:] = json.loads(sys.argv[1]); from plugins.apart.worker import main; main()"


class PluginFailedError(RuntimeError):
    """A plugin raised, took too long, or its process ended; the message is one line."""


class Process:
    """One plugin in a process of its own, started when it is first asked and again after it has died.

    Parameters
    ----------
    what
        Which plugin: `group`, `name` and `value` of an entry point, or `path` and `sha256` of local code.
    limit
        Seconds it may take over one question.
    """

    def __init__(self, what: Mapping[str, str], limit: float) -> None:
        self._what = dict(what)
        self.limit = limit
        self._running: subprocess.Popen[bytes] | None = None
        self._strikes = 0
        self._warm = False
        self._lock = threading.Lock()

    def load(self) -> wire.Head:
        """Import the plugin and return what it offers.

        Raises
        ------
        PluginFailedError
            When it cannot be imported, or offers nothing.
        """
        with self._lock:
            self._end()
            return self._start()

    def ask(self, head: wire.Head, blobs: Sequence[bytes] = (), frames: bool = False) -> tuple[wire.Head, list[bytes]]:
        """Ask one question and return the answer; `frames` says that the plugin will need the frame library for it.

        Raises
        ------
        PluginFailedError
            When the plugin raises, takes too long or dies.
        """
        with self._lock:
            if self._strikes >= STRIKES:
                raise PluginFailedError(f"it failed {STRIKES} times in a row and was left out for the rest of this run")
            if self._running is None:
                self._start()
            if frames and not self._warm:
                self._exchange({"do": "warm"}, (), WARMING)
                self._warm = True
            return self._exchange(head, blobs, self.limit)

    def _start(self) -> wire.Head:
        search = json.dumps([entry or str(Path.cwd()) for entry in sys.path])
        with unwatched():
            self._running = subprocess.Popen(  # noqa: S603 - our own interpreter, no shell
                # -P: a file in the folder the program was started from must not stand in for a module.
                [sys.executable, "-P", "-c", _BOOT, search],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            )
        weakref.finalize(self, _kill, self._running)
        try:
            self._exchange({"do": "hello"}, (), WARMING)
            return self._exchange({"do": "load", **self._what}, (), self.limit)[0]
        except PluginFailedError:
            self._end()
            raise

    def _exchange(self, head: wire.Head, blobs: Sequence[bytes], limit: float) -> tuple[wire.Head, list[bytes]]:
        running = cast("subprocess.Popen[bytes]", self._running)
        late = threading.Event()
        watch = threading.Timer(limit, _stop, (running, late))
        watch.daemon = True
        watch.start()
        try:
            wire.send(cast("IO[bytes]", running.stdin), {**head, "limit": limit}, blobs)
            answer, out = wire.receive(cast("IO[bytes]", running.stdout))
        except (OSError, wire.ClosedError) as fault:
            self._strikes += 1
            code = self._end()
            said = f"it took longer than {limit:g} s and was stopped" if late.is_set() else _ended(code)
            raise PluginFailedError(said) from fault
        finally:
            watch.cancel()
        if head["do"] not in {"hello", "load", "warm"}:
            self._strikes = 0
        if "fault" in answer:
            raise PluginFailedError(str(answer["fault"]))
        return answer, out

    def _end(self) -> int | None:
        """End the process, if there is one, and return its exit code where it ended by itself."""
        running, self._running, self._warm = self._running, None, False
        if running is None:
            return None
        with suppress(subprocess.TimeoutExpired):
            running.wait(0.2)
        code = running.poll()
        _kill(running)
        return code


def _stop(running: "subprocess.Popen[bytes]", late: threading.Event) -> None:
    late.set()
    running.kill()


def _kill(running: "subprocess.Popen[bytes]") -> None:
    running.kill()
    for stream in (running.stdin, running.stdout):
        with suppress(OSError):
            if stream:
                stream.close()
    running.wait()


def _ended(code: int | None) -> str:
    if code is not None and code < 0:
        return f"its process crashed (signal {-code})"
    return "its process ended without an answer" + (f" (exit code {code})" if code else "")


@dataclass(frozen=True)
class ApartImporter:
    """An importer in code, asked in its own process: `read` refuses what the plugin fails on and never raises.

    Attributes
    ----------
    version
        Its own version and what its code was trusted by: distribution and version, or the hash of its bytes.
    place
        Folder beside which its examples, expected records and note lie.
    """

    name: str
    version: str
    gives: tuple[str, ...]
    place: Path
    process: Process
    which: int

    def claims(self, export: Export) -> str | None:
        """Return why the plugin claims the export, or None.

        Raises
        ------
        PluginFailedError
            When it fails while looking at it.
        """
        head = {"do": "claims", "which": self.which, "export": _told(export)}
        reason = self.process.ask(head, [export.head])[0]["reason"]
        return None if reason is None else str(reason)

    def read(self, exports: Sequence[Export]) -> Reading:
        """Read a batch in portions; a portion the plugin fails on is read again export by export."""
        import polars as pl

        parts = [part for at in range(0, len(exports), PORTION) for part in self._portion(exports[at : at + PORTION])]
        records = dict.fromkeys(record for part in parts for record in part.frames)
        frames = {
            record: pl.concat([part.frames[record] for part in parts if record in part.frames], how="diagonal_relaxed")
            for record in records
        }
        return Reading(frames, pl.concat([no_refusals(), *(part.refused for part in parts)], how="diagonal_relaxed"))

    def _portion(self, exports: Sequence[Export]) -> list[Reading]:
        try:
            return [self._ask(exports)]
        except PluginFailedError as fault:
            if len(exports) == 1:
                row = Refusing("importer_failed", f"importer '{self.name}' failed: {fault}").row(exports[0].hash)
                return [Reading({}, refusals([row]))]
        return [part for export in exports for part in self._portion([export])]

    def _ask(self, exports: Sequence[Export]) -> Reading:
        head = {"do": "read", "which": self.which, "exports": [_told(export) for export in exports]}
        answer, blobs = self.process.ask(head, [export.head for export in exports], frames=True)
        frames = [wire.unpacked(blob) for blob in blobs]
        reading = Reading(dict(zip(answer["records"], frames[:-1], strict=True)), frames[-1])
        for sentence in broken(reading, self, exports):
            raise PluginFailedError(sentence)
        return reading


@dataclass(frozen=True)
class ApartRenderer:
    """A renderer in code, asked in its own process."""

    name: str
    place: Path
    process: Process
    which: int
    on_request: str | None = None

    def render(self, tables: Mapping[str, "pl.DataFrame"], scope: Scope) -> Iterable[Artefact]:
        """Return the plugin's artefacts.

        Raises
        ------
        PluginFailedError
            When it raises, takes too long or dies.
        """
        head = {
            "do": "render",
            "which": self.which,
            "tables": list(tables),
            "projects": None if scope.projects is None else sorted(scope.projects),
            "samples": None if scope.samples is None else sorted(scope.samples),
        }
        answer, blobs = self.process.ask(head, [wire.packed(frame) for frame in tables.values()], frames=True)
        return [Artefact(path, blob, kind) for (path, kind), blob in zip(answer["artefacts"], blobs, strict=True)]


def _told(export: Export) -> dict[str, Any]:
    return {"name": export.name, "hash": export.hash, "path": str(export.path.absolute()), "size": export.size}
