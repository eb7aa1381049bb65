"""Loaded by every child of these tests: writes down each address outside this machine that it tries to reach."""

import os
import sys

_LOOPBACK = ("127.", "::1", "localhost", "0.0.0.0")  # noqa: S104
_NOTES = os.environ.get("OUTBOUND_NOTES")


def _note(event: str, given: tuple[object, ...]) -> None:
    if event == "socket.getaddrinfo":
        host = given[0]
    elif event in ("socket.connect", "socket.sendto"):
        address = given[1]
        host = address[0] if isinstance(address, tuple) else None  # a path is a socket of this machine
    else:
        return
    name = host.decode(errors="replace") if isinstance(host, bytes) else host
    if isinstance(name, str) and name and not name.startswith(_LOOPBACK):
        with open(str(_NOTES), "a", encoding="utf-8") as out:  # noqa: PTH123 - as little as possible at start-up
            out.write(f"{event} {name} by {' '.join(sys.orig_argv)}\n")


if _NOTES:
    sys.addaudithook(_note)
