"""One call states a column: its unit, bounds, nullability, vocabulary and one sentence."""

from typing import Any

import pandera.polars as pa

from schemas.vocabulary import Word


def column(
    sentence: str,
    *,
    unit: str | None = None,
    above: float | None = None,
    at_least: float | None = None,
    at_most: float | None = None,
    nullable: bool = False,
    words: type[Word] | None = None,
    among: tuple[Word, ...] | None = None,
    caution: str | None = None,
) -> Any:
    """State one column of a record.

    Parameters
    ----------
    sentence
        What the column holds, one sentence; it becomes the table comment and the dictionary entry.
    unit
        Stored unit, spelt as in `schemas.units`; the column's name ends in its suffix.
    above, at_least, at_most
        Bounds in the stored unit: what lies outside is impossible, not merely unusual.
    nullable
        Whether an export may leave it out.
    words
        Closed vocabulary the value must belong to.
    among
        The words of it that have a meaning here, where not all have.
    caution
        What a reader of the column should beware of.
    """
    metadata = {"unit": unit, "words": words.__name__ if words else None, "caution": caution}
    return pa.Field(
        description=sentence,
        gt=above,
        ge=at_least,
        le=at_most,
        nullable=nullable,
        isin=[word.value for word in among or words] if words else None,
        metadata=metadata,
    )
