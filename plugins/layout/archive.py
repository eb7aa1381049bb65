"""Guards a workbook before it is opened: what its members truly expand to, and how far its sheets reach."""

import io
import re
import struct
import zipfile
import zlib

from plugins.api import Refusing

#: Most bytes all members of a workbook may expand to, and most cells a sheet may span.
EXPANDED_LIMIT = 200 * 1024 * 1024
CELL_LIMIT = 2_000_000
MEMBER_LIMIT = 2_000

_CHUNK = 1 << 20
_TAIL = 64
_PLACE = re.compile(rb"""\sr=["']([A-Z]{0,3})(\d{1,9})["']""")
_LOCAL = struct.Struct("<26xHH")


def guard(content: bytes) -> None:
    """Refuse a workbook that is no whole archive, or that would take too much memory to open.

    The sizes an archive declares can lie, so each member is expanded once, chunk by chunk, and counted. A sheet
    is held as a full rectangle by whoever opens it, so one far cell costs as much as all the cells before it.

    Raises
    ------
    Refusing
        `truncated`, `not_well_formed` or `too_large`.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            members = archive.infolist()
    except (zipfile.BadZipFile, NotImplementedError, ValueError, EOFError) as fault:
        cut_off = b"PK\x05\x06" not in content[-70_000:]
        code = "truncated" if cut_off else "not_well_formed"
        raise Refusing(code, f"the workbook is not a whole archive: {fault}") from fault
    if len(members) > MEMBER_LIMIT:
        raise Refusing("too_large", f"the workbook has {len(members):,} members, the limit is {MEMBER_LIMIT:,}")
    expanded = 0
    for member in members:
        expanded += _expand(content, member, EXPANDED_LIMIT - expanded)


def _expand(content: bytes, member: zipfile.ZipInfo, left: int) -> int:
    if member.flag_bits & 1:
        raise Refusing("not_well_formed", "the workbook is locked with a password")
    if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise Refusing("not_well_formed", f"a member is packed by the unusual method {member.compress_type}")
    head = content[member.header_offset : member.header_offset + _LOCAL.size]
    if len(head) < _LOCAL.size:
        raise Refusing("truncated", "a member of the workbook lies beyond its end")
    start = member.header_offset + _LOCAL.size + sum(_LOCAL.unpack(head))
    packed = content[start : start + member.compress_size]
    reach = _Reach() if member.filename.startswith("xl/worksheets/") else None
    if member.compress_type == zipfile.ZIP_STORED:
        if reach:
            reach.feed(packed)
        return _within(len(packed), left)
    return _inflate(packed, reach, left)


def _inflate(packed: bytes, reach: "_Reach | None", left: int) -> int:
    inflater = zlib.decompressobj(-zlib.MAX_WBITS)
    size, pending = 0, packed
    try:
        while pending and not inflater.eof:
            chunk = inflater.decompress(pending, _CHUNK)
            pending = inflater.unconsumed_tail
            size = _within(size + len(chunk), left)
            if reach:
                reach.feed(chunk)
    except zlib.error as fault:
        raise Refusing("not_well_formed", f"a member of the workbook is damaged: {fault}") from fault
    return size


def _within(size: int, left: int) -> int:
    if size > left:
        raise Refusing("too_large", f"the workbook expands to more than {EXPANDED_LIMIT:,} bytes")
    return size


class _Reach:
    """Follows the farthest row and column of one sheet."""

    def __init__(self) -> None:
        self.rows = 1
        self.columns = 1
        self._tail = b""

    def feed(self, chunk: bytes) -> None:
        text = self._tail + chunk
        self._tail = text[-_TAIL:]
        for letters, digits in set(_PLACE.findall(text)):
            self.rows = max(self.rows, int(digits))
            column = 0
            for letter in letters:
                column = column * 26 + letter - 64
            self.columns = max(self.columns, column)
        if self.rows * self.columns > CELL_LIMIT:
            raise Refusing("too_large", f"a sheet spans {self.rows:,} rows and {self.columns:,} columns")
