"""Encodings: bytes -> text, by byte-order mark first, then by the encodings a layout names."""

import codecs
from collections.abc import Sequence

#: Byte-order mark -> encoding that strips it. The UTF-8 mark is the only one of three bytes, so order is free.
_MARKS: tuple[tuple[bytes, str], ...] = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def marked_encoding(content: bytes) -> str | None:
    """Return the encoding a byte-order mark announces, or None."""
    return next((encoding for mark, encoding in _MARKS if content.startswith(mark)), None)


def decode(content: bytes, encodings: Sequence[str]) -> str:
    """Decode with the encoding the byte-order mark announces, else with the first of `encodings` that fits.

    Raises
    ------
    UnicodeDecodeError
        When none fits; it is the fault of the first encoding named.
    """
    marked = marked_encoding(content)
    first: UnicodeDecodeError | None = None
    for encoding in (marked,) if marked else encodings:
        try:
            return content.decode(encoding)
        except UnicodeDecodeError as fault:
            first = first or fault
    raise first or UnicodeDecodeError("none", content, 0, len(content), "no encoding named")


def unmarked_wide(content: bytes) -> str | None:
    """Return the encoding of text of two bytes a character that has no byte-order mark, or None."""
    head = content[:512]
    if len(head) < 8 or head.count(0) * 4 < len(head):
        return None
    odd, even = head[1::2].count(0), head[::2].count(0)
    if odd and not even:
        return "utf-16-le"
    return "utf-16-be" if even and not odd else None


def decode_head(head: bytes) -> str:
    """Decode the start of a file for recognition: always succeeds, white space in front is taken off."""
    marked = marked_encoding(head)
    if marked := marked or unmarked_wide(head):
        return head.decode(marked, errors="ignore").lstrip()
    try:
        # An incremental decoder keeps a character cut at the end of the head from spoiling the whole.
        return codecs.getincrementaldecoder("utf-8")().decode(head).lstrip()
    except UnicodeDecodeError:
        return head.decode("cp1252", errors="replace").lstrip()
