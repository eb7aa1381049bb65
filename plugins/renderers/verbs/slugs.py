"""Labels -> file names and anchors that are safe on every system and never collide."""

import hashlib
import re
from functools import lru_cache

import polars as pl

#: Labels of these shapes are their own slug: capitals only, so that no other label differs by case alone.
_PLAIN = re.compile(r"[A-Z0-9][A-Z0-9-]{0,39}\Z")
#: Names some systems keep for devices.
_RESERVED = re.compile(r"(CON|PRN|AUX|NUL|COM\d|LPT\d)\Z")
_UNSAFE = re.compile(r"[^a-z0-9]+")
_KEPT = 32


@lru_cache(maxsize=65536)
def slug(label: str) -> str:
    """Return the slug of a label: letters, digits, hyphen and underscore only, at most 49 characters.

    A label of capitals, digits and hyphens is its own slug; any other is made safe and gets a hash of the whole
    label behind an underscore, which no plain label holds. The same label always has the same slug.
    """
    if _PLAIN.match(label) and not _RESERVED.match(label):
        return label
    safe = _UNSAFE.sub("-", label.lower()[:200])[:_KEPT].strip("-")
    digest = hashlib.sha256(label.encode("utf-8", "surrogatepass")).hexdigest()[:16]
    return f"{safe}_{digest}"


def slugs(labels: pl.Series) -> pl.DataFrame:
    """Return a frame with the distinct labels and their `slug`, to be joined: one slug is one page."""
    distinct = labels.drop_nulls().unique(maintain_order=True)
    return pl.DataFrame(
        {labels.name: distinct, "slug": [slug(label) for label in distinct]},
        schema={labels.name: pl.String(), "slug": pl.String()},
    )
