"""A file handed to an importer: name, hash, head, and reading that is bounded."""

import os
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

#: First bytes of an export that recognition may look at.
HEAD_BYTES = 8192

#: Most bytes `Export.read` hands out unless the caller allows more.
READ_LIMIT = 64 * 1024 * 1024


class TooLargeError(ValueError):
    """An export, or what it expands to, is larger than the limit."""

    def __init__(self, size: int, limit: int) -> None:
        super().__init__(f"{size:,} bytes, the limit is {limit:,}")
        self.size = size
        self.limit = limit


@dataclass(frozen=True)
class Export:
    """One export as it was kept: an importer reads it, never writes or moves it.

    Attributes
    ----------
    name
        File name it arrived under: untrusted text, for messages only.
    hash
        SHA-256 of its bytes, in hex.
    path
        Where the kept bytes lie.
    size
        Size in bytes.
    head
        Its first `HEAD_BYTES` bytes.
    """

    name: str
    hash: str
    path: Path
    size: int
    head: bytes

    @classmethod
    def from_path(cls, path: Path, name: str | None = None) -> "Export":
        """Make an export of a file, hashing its bytes in chunks."""
        import hashlib

        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
            file.seek(0)
            head = file.read(HEAD_BYTES)
        return cls(name or path.name, digest, path, path.stat().st_size, head)

    @cached_property
    def head_text(self) -> str:
        """Return the head as text for recognition: no byte of any encoding makes it fail."""
        from plugins.text import decode_head

        return decode_head(self.head)

    @cached_property
    def head_squeezed(self) -> str:
        """Return the head without white space, so that recognition does not hang on it."""
        return "".join(self.head_text.split())

    def read(self, limit: int = READ_LIMIT) -> bytes:
        """Return all bytes.

        Raises
        ------
        TooLargeError
            When there are more than `limit` bytes, whatever `size` says.
        """
        with self.path.open("rb") as file:
            # Room for what is there, not for what may be; one byte more shows a file that has grown.
            content = file.read(min(limit, os.fstat(file.fileno()).st_size) + 1)
        if len(content) > limit:
            raise TooLargeError(max(self.size, len(content)), limit)
        return content
