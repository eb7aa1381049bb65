"""Messages between the pipeline and a plugin's process: a JSON head and blobs of bytes, with their lengths in front."""

import io
import json
import struct
from collections.abc import Sequence
from typing import IO, TYPE_CHECKING, Any

if TYPE_CHECKING:
    import polars as pl

_LENGTH = struct.Struct(">Q")

#: Longest message taken from a plugin's process.
MESSAGE_LIMIT = 4 << 30

Head = dict[str, Any]


class ClosedError(EOFError):
    """The other side has gone."""


def send(stream: IO[bytes], head: Head, blobs: Sequence[bytes] = ()) -> None:
    """Write one message."""
    content = json.dumps([head, [len(blob) for blob in blobs]]).encode()
    stream.write(_LENGTH.pack(len(content)) + content)
    for blob in blobs:
        stream.write(blob)
    stream.flush()


def receive(stream: IO[bytes]) -> tuple[Head, list[bytes]]:
    """Read one message.

    Raises
    ------
    ClosedError
        When the other side has gone, or writes what is no message.
    """
    (length,) = _LENGTH.unpack(_exactly(stream, _LENGTH.size))
    try:
        head, lengths = json.loads(_exactly(stream, length))
        return dict(head), [_exactly(stream, int(each)) for each in lengths]
    except ValueError as fault:
        raise ClosedError("what it wrote is no message") from fault


def _exactly(stream: IO[bytes], length: int) -> bytes:
    if length > MESSAGE_LIMIT:
        raise ClosedError("its message is too long")
    content = stream.read(length)
    if len(content) < length:
        raise ClosedError("it has gone")
    return content


def packed(frame: "pl.DataFrame") -> bytes:
    """Return a frame as bytes."""
    out = io.BytesIO()
    frame.write_ipc(out)
    return out.getvalue()


def unpacked(content: bytes) -> "pl.DataFrame":
    """Return the frame of bytes."""
    import polars as pl

    return pl.read_ipc(io.BytesIO(content))
