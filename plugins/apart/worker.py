"""The plugin's side: loads one plugin, answers what the pipeline asks, and lets nothing else through."""

import os
import sys
import threading
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import IO, Any, cast

from plugins.apart import wire
from plugins.api import Artefact, Export, Importer, Reading, Renderer, Scope
from plugins.purity import pure

Answer = tuple[wire.Head, list[bytes]]

#: Seconds after the pipeline's own limit at which a plugin whose pipeline has gone ends itself.
_GRACE = 5.0


def main() -> None:
    """Answer until the pipeline goes. The plugin never sees the streams the two talk over."""
    sys.dont_write_bytecode = True
    asked, answered = _private_streams()
    worker = _Worker()
    while True:
        try:
            head, blobs = wire.receive(asked)
        except wire.ClosedError:
            return
        last_resort = threading.Timer(head["limit"] + _GRACE, os._exit, (1,))
        last_resort.daemon = True
        last_resort.start()
        try:
            made, out = worker.answer(head, blobs)
        except BaseException as fault:  # also a plugin that calls sys.exit
            made, out = {"fault": _sentence(fault)}, []
        last_resort.cancel()
        wire.send(answered, made, out)


def _private_streams() -> tuple[IO[bytes], IO[bytes]]:
    asked, answered = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    nothing = os.open(os.devnull, os.O_RDWR)
    os.dup2(nothing, 0)
    os.dup2(2, 1)
    return asked, answered


def _sentence(fault: BaseException) -> str:
    """Return what failed and where in the plugin, in one line."""
    said = " ".join(f"{type(fault).__name__}: {fault}".split())[:300]
    ours = str(Path(__file__).parents[1])
    frames = [each for each in traceback.extract_tb(fault.__traceback__) if not each.filename.startswith(ours)]
    return f"{said} ({Path(frames[-1].filename).name}, line {frames[-1].lineno})" if frames else said


class _Worker:
    """One plugin and its importers and renderers."""

    def __init__(self) -> None:
        self._importers: list[Importer] = []
        self._renderers: list[Renderer] = []
        self._answers: dict[str, Callable[[wire.Head, list[bytes]], Answer]] = {
            "hello": lambda *_: ({}, []),
            "load": self._load,
            "warm": self._warm,
            "claims": self._claims,
            "read": self._read,
            "render": self._render,
        }

    def answer(self, head: wire.Head, blobs: list[bytes]) -> Answer:
        """Do what is asked."""
        return self._answers[head["do"]](head, blobs)

    def _load(self, head: wire.Head, _: list[bytes]) -> Answer:
        from plugins.apart.loading import offered

        self._importers, self._renderers, faults = offered(head)
        return {
            "importers": [
                {"name": one.name, "version": str(one.version), "gives": list(one.gives), "place": _place(one)}
                for one in self._importers
            ],
            "renderers": [
                {"name": one.name, "place": _place(one), "on_request": _format(one)} for one in self._renderers
            ],
            "faults": faults,
        }, []

    def _warm(self, _: wire.Head, __: list[bytes]) -> Answer:
        from plugins.api import no_refusals

        no_refusals()
        return {}, []

    def _claims(self, head: wire.Head, blobs: list[bytes]) -> Answer:
        with pure():
            reason = self._importers[head["which"]].claims(_export(head["export"], blobs[0]))
        if reason is not None and not isinstance(reason, str):
            raise TypeError(f"claims gave back {type(reason).__name__}; it must give a sentence or None")
        return {"reason": reason}, []

    def _read(self, head: wire.Head, blobs: list[bytes]) -> Answer:
        exports = [_export(given, blob) for given, blob in zip(head["exports"], blobs, strict=True)]
        with pure():
            reading = self._importers[head["which"]].read(exports)
        if not isinstance(reading, Reading):
            raise TypeError(f"read gave back {type(reading).__name__}; it must give a Reading")
        frames = dict(reading.frames)
        return {"records": list(frames)}, [wire.packed(frame) for frame in (*frames.values(), reading.refused)]

    def _render(self, head: wire.Head, blobs: list[bytes]) -> Answer:
        tables = {name: wire.unpacked(blob) for name, blob in zip(head["tables"], blobs, strict=True)}
        scope = Scope(*(None if part is None else frozenset(part) for part in (head["projects"], head["samples"])))
        with pure():
            made: Sequence[Artefact] = list(self._renderers[head["which"]].render(tables, scope))
        for one in made:
            if not isinstance(one, Artefact):
                raise TypeError(f"render gave back {type(one).__name__}; it must give artefacts")
        return {"artefacts": [[one.path, one.media_type] for one in made]}, [bytes(one.content) for one in made]


def _export(given: dict[str, Any], head: bytes) -> Export:
    return Export(given["name"], given["hash"], Path(given["path"]), given["size"], head)


def _format(one: object) -> str | None:
    """Return the format a renderer is asked for by name, None where it renders with every run."""
    asked = getattr(one, "on_request", None)
    return None if asked is None else str(asked)


def _place(one: object) -> str:
    """Return the folder its examples and expected records lie beside: where its code or its layout is."""
    from plugins.api import folder_of

    return str(folder_of(cast(Any, one)))
