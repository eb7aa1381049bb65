"""An issued report as the card that is kept: JSON an importer reads, with the page as it was issued packed inside."""

import base64
import gzip
import hashlib
import json
from collections.abc import Mapping
from typing import Any

import polars as pl

#: Columns of an entry in the card.
ENTRY = ("part", "item", "field", "text")


def content_hash(entries: pl.DataFrame) -> str:
    """Return the SHA-256 of entries (columns of `ENTRY`), in their order."""
    rows = json.dumps(entries.select(ENTRY).rows(), ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(rows.encode("utf-8", "surrogatepass")).hexdigest()


def card(head: Mapping[str, Any], entries: pl.DataFrame, changes: pl.DataFrame, page: bytes | None) -> bytes:
    """Return the card; nulls are left out.

    Parameters
    ----------
    head
        Fields of the issue, by the names the layout `report_card` reads.
    entries
        What the report shows: columns of `ENTRY`.
    changes
        What changed since the report it replaces: item, field, before, after, why.
    page
        The page as it was issued.
    """
    stated = {"kind": "issued report", **head, "entry_count": entries.height}
    lines = [f"{_text(name)}: {_text(value)}," for name, value in stated.items() if value is not None]
    rows = [{"no": place, **row} for place, row in enumerate(entries.select(ENTRY).iter_rows(named=True), start=1)]
    lines += _listed("entries", rows, last=changes.is_empty() and page is None)
    if not changes.is_empty():
        lines += _listed("changes", changes.to_dicts(), last=page is None)
    if page is not None:
        packed = base64.b64encode(gzip.compress(page, mtime=0)).decode("ascii")
        lines.append(f'"page": "{packed}"')
    return "\n".join(["{", *lines, "}", ""]).encode("utf-8")


def _listed(name: str, rows: list[dict[str, Any]], *, last: bool) -> list[str]:
    told = [_text({key: value for key, value in row.items() if value is not None}) for row in rows]
    body = [f"{one}," for one in told[:-1]] + told[-1:]
    return [f'"{name}": [', *body, "]" if last else "],"]


def _text(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)


def page_of(content: bytes) -> bytes | None:
    """Return the page a kept card holds; None where it holds none.

    Raises
    ------
    ValueError
        When it is no such card, or the page cannot be unpacked.
    """
    packed = json.loads(content).get("page")
    return None if packed is None else gzip.decompress(base64.b64decode(packed, validate=True))
