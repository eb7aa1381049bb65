"""Tells which promises a reading breaks that an importer handed back: one sentence for each."""

from collections.abc import Iterator, Sequence

from plugins.api import CATALOGUE, Export, Importer, Reading


def broken(reading: object, importer: Importer, exports: Sequence[Export]) -> Iterator[str]:
    """Yield what is wrong with the shape of a reading: records, columns, codes, and rows of exports not handed in.

    Values are not looked at here: `schemas.validate` does that.
    """
    import polars as pl

    if not isinstance(reading, Reading):
        yield f"read gave back {type(reading).__name__}; it must give a Reading"
        return
    hashes = {export.hash for export in exports}
    for record, frame in reading.frames.items():
        if not isinstance(frame, pl.DataFrame):
            yield f"the rows of '{record}' are {type(frame).__name__}; they must be a polars DataFrame"
        else:
            yield from _rows(record, frame, importer, hashes)
    yield from _refusals(reading.refused, hashes)


def _rows(record: str, frame: "object", importer: Importer, hashes: set[str]) -> Iterator[str]:
    import polars as pl

    from schemas.describe import describe

    assert isinstance(frame, pl.DataFrame)  # noqa: S101 - for the type checker; `broken` has looked
    if record not in importer.gives:
        yield f"it handed in '{record}', which it does not name in `gives` ({', '.join(importer.gives)})"
        return
    try:
        description = describe(record)
    except KeyError:
        yield f"there is no record '{record}' an importer may hand in"
        return
    if not description.imported:
        yield f"'{record}' is worked out by the pipeline; no importer may hand it in"
        return
    lacking = [name for name in ("export_hash", "source_line") if name not in frame.columns]
    if lacking:
        yield f"the rows of '{record}' lack the column '{lacking[0]}'"
        return
    strange = set(frame.select(pl.col("export_hash").unique())["export_hash"]) - hashes
    if strange:
        yield f"the rows of '{record}' name an export that was not handed in ({next(iter(strange))})"
    unknown = [name for name in frame.columns if name not in description.schema()]
    if unknown:
        yield f"the rows of '{record}' have the column '{unknown[0]}', which the record lacks"


def _refusals(refused: object, hashes: set[str]) -> Iterator[str]:
    import polars as pl

    from plugins.api import REFUSALS

    if not isinstance(refused, pl.DataFrame) or list(refused.columns) != list(REFUSALS):
        yield "the refusals are not a frame made by `refusals(...)`"
        return
    if refused.is_empty():
        return
    strange = set(refused["export_hash"].unique()) - hashes
    if strange:
        yield f"a refusal names an export that was not handed in ({next(iter(strange))})"
    for code in refused["code"].unique().to_list():
        if code not in CATALOGUE:
            yield f"a refusal has the code '{code}', which the catalogue lacks"
    if refused["reason"].fill_null("").str.strip_chars().eq("").any():
        yield "a refusal gives no reason"
