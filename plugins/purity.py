"""Watches what plugin code does besides its job: connections, processes, files written."""

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

_WRITING = os.O_WRONLY | os.O_RDWR | os.O_APPEND | os.O_CREAT

#: Audit event -> what the code tried to do.
_EVENTS = {
    "socket.connect": "open a connection",
    "socket.bind": "open a port",
    "socket.getaddrinfo": "look up a network address",
    "socket.sendto": "send over the network",
    "subprocess.Popen": "start a process",
    "os.system": "start a process",
    "os.exec": "start a process",
    "os.fork": "start a process",
    "os.posix_spawn": "start a process",
    "os.spawn": "start a process",
    "os.startfile": "start a process",
    "os.remove": "remove a file",
    "os.rename": "rename a file",
    "os.rmdir": "remove a folder",
    "os.mkdir": "make a folder",
    "os.truncate": "change a file",
    "shutil.rmtree": "remove a folder",
}

_watched = threading.local()
_state = {"installed": False}


class ImpureError(PermissionError):
    """Plugin code did something besides reading the exports or tables it was handed."""


@contextmanager
def pure() -> Iterator[list[str]]:
    """Refuse connections, processes and writing in this thread; yields what was tried, one sentence each."""
    if not _state["installed"]:
        _state["installed"] = True
        sys.addaudithook(_audit)
    tried: list[str] = []
    _watched.tried = tried
    try:
        yield tried
    finally:
        _watched.tried = None


@contextmanager
def unwatched() -> Iterator[None]:
    """Let our own code do in this thread what plugin code may not."""
    tried = getattr(_watched, "tried", None)
    _watched.tried = None
    try:
        yield
    finally:
        _watched.tried = tried


def _audit(event: str, given: tuple[Any, ...]) -> None:
    tried: list[str] | None = getattr(_watched, "tried", None)
    if tried is None or (event != "open" and event not in _EVENTS):
        return
    if event == "open" and not _writes(given):
        return
    what = f"write the file {given[0]}" if event == "open" else _EVENTS[event]
    tried.append(what)
    raise ImpureError(f"it tried to {what}; a plugin may only read what it is handed")


def _writes(given: tuple[Any, ...]) -> bool:
    path, mode, flags = given
    if path == os.devnull or isinstance(path, int):
        return False
    if isinstance(mode, str):
        return any(sign in mode for sign in "wax+")
    return isinstance(flags, int) and bool(flags & _WRITING)
