"""The lines of kept exports that rows were read from, as text to show."""

from collections.abc import Iterator, Sequence
from pathlib import Path

import polars as pl

from pipeline.workspace import Workspace
from plugins.text import marked_encoding, unmarked_wide

#: A line longer than this is shown cut: it is there to be recognised, not to be read in full.
LONGEST = 240

_SCHEMA = {"export_hash": pl.String(), "source_line": pl.Int64(), "raw_line": pl.String()}


def raw_lines(workspace: Workspace, places: pl.DataFrame) -> pl.DataFrame:
    """Return the text at places of kept exports.

    Parameters
    ----------
    places
        `export_hash`, `source_line`; other columns are passed over.

    Returns
    -------
    `export_hash`, `source_line`, `raw_line`; without the places in exports that are not text. Where the kept file
    cannot be read, a sentence says so in place of each of its lines: the figures stand, but their evidence is gone.
    """
    wanted = places.select("export_hash", "source_line").drop_nulls().unique()
    by_export = wanted.group_by("export_hash").agg("source_line").iter_rows()
    rows = [
        (export_hash, line, text)
        for export_hash, lines in by_export
        for line, text in _found(workspace.kept_file(export_hash), lines)
    ]
    return pl.DataFrame(rows, schema=_SCHEMA, orient="row")


def _found(kept: Path, lines: Sequence[int]) -> Iterator[tuple[int, str]]:
    try:
        text = _text(kept.read_bytes())
    except OSError as fault:
        said = (
            f"(not to be shown: the kept file {kept.name} cannot be read: {fault.strerror}; restore it from a backup)"
        )
        yield from ((line, said) for line in lines)
        return
    if text is not None:
        split = text.splitlines()
        yield from ((line, split[line - 1][:LONGEST]) for line in lines if line <= len(split))


def _text(content: bytes) -> str | None:
    encoding = marked_encoding(content) or unmarked_wide(content)
    if encoding is not None:
        return content.decode(encoding, errors="replace")
    if content.startswith(b"PK\x03\x04") or b"\x00" in content[:4096]:
        return None
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")
