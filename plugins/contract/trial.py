"""Asks a plugin under test with a time limit; what it raises, and what it tries besides reading, becomes a sentence."""

import threading
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

from plugins.api import Export, Importer, Reading
from plugins.purity import pure

T = TypeVar("T")


class FailedError(Exception):
    """The plugin under test raised or hung where it must do neither; the message is one sentence."""


class ImpureAttemptError(FailedError):
    """The plugin under test tried something besides reading what it was handed."""


def timed(what: str, ask: Callable[[], T], limit: float) -> T:
    """Run a question in a thread of its own and give up on it after `limit` seconds.

    Raises
    ------
    FailedError
        When it raises, or does not return in time.
    """
    box: dict[str, Any] = {}

    def run() -> None:
        with pure() as tried:
            try:
                box["answer"] = ask()
            except BaseException as fault:  # a plugin that calls sys.exit is told too
                box["fault"] = fault
        box["tried"] = tried

    thread = threading.Thread(target=run, daemon=True, name=f"contract: {what}")
    thread.start()
    thread.join(limit)
    if thread.is_alive():
        raise FailedError(f"{what} did not return within {limit:g} s")
    if box["tried"]:
        raise ImpureAttemptError(f"{what} tried to {box['tried'][0]}")
    if "fault" in box:
        raise FailedError(f"{what} raised {_sentence(box['fault'])}") from box["fault"]
    answer: T = box["answer"]
    return answer


def read(importer: Importer, exports: Sequence[Export], limit: float) -> Reading:
    """Read a batch under the time limit; what comes back is a reading, or `FailedError` says what it is."""
    names = exports[0].name if len(exports) == 1 else f"{len(exports)} exports"
    made = timed(f"reading {names}", lambda: importer.read(exports), limit)
    if not isinstance(made, Reading):
        raise FailedError(f"reading {names} gave back {type(made).__name__}; it must give a Reading")
    return made


def claims(importer: Importer, export: Export, limit: float) -> str | None:
    """Ask whether the importer claims an export."""
    return timed(f"looking at {export.name}", lambda: importer.claims(export), limit)


def _sentence(fault: BaseException) -> str:
    said = " ".join(f"{type(fault).__name__}: {fault}".split())[:300]
    frames = traceback.extract_tb(fault.__traceback__)
    return f"{said} ({Path(frames[-1].filename).name}, line {frames[-1].lineno})" if frames else said
