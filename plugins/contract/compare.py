"""Tells whether a changed copy of an export is read rightly: only rows of the whole one, none missing in silence."""

from collections.abc import Iterator, Sequence

import polars as pl

from plugins.api import CATALOGUE, Export, Reading
from plugins.contract.model import rows_of

#: Columns that say where a row stands, not what was measured.
PLACE = ("export_hash", "source_part", "source_line")


def ordered(frame: pl.DataFrame, without: Sequence[str] = ("export_hash",)) -> pl.DataFrame:
    """Return the columns in the order of their names and the rows in the order of their values."""
    kept = sorted(set(frame.columns) - set(without))
    return frame.select(kept).sort(kept)


def of(frame: pl.DataFrame, export: Export) -> pl.DataFrame:
    """Return the rows of one export of a batch."""
    return frame.filter(pl.col("export_hash") == export.hash)


def differences(left: Reading, right: Reading, without: Sequence[str] = ("export_hash",)) -> Iterator[str]:
    """Yield where two readings differ: the records, then the first row that only one of them has."""
    for record in sorted({*rows_of(left), *rows_of(right)}):
        one, two = (reading.frames.get(record, pl.DataFrame()) for reading in (left, right))
        if one.height != two.height:
            yield f"{record}: {one.height} rows, then {two.height}"
        elif set(one.columns) != set(two.columns):
            yield f"{record}: other columns ({', '.join(sorted(set(one.columns) ^ set(two.columns)))})"
        elif not ordered(one, without).equals(ordered(two, without)):
            yield f"{record}: {_first_difference(ordered(one, without), ordered(two, without))}"
    refused = [reading.refused.drop("export_hash").sort(pl.all()) for reading in (left, right)]
    if not refused[0].equals(refused[1]):
        yield f"{left.refused.height} refusals, then {right.refused.height}, or other ones"


def _first_difference(one: pl.DataFrame, two: pl.DataFrame) -> str:
    for left, right in zip(one.iter_rows(named=True), two.iter_rows(named=True), strict=False):
        for name, value in left.items():
            if value != right[name]:
                return f"'{name}' is {value!r}, then {right[name]!r}"
    return "the rows differ"


def strange_rows(whole: pl.DataFrame, copy: pl.DataFrame, without: Sequence[str]) -> pl.DataFrame:
    """Return the rows of a copy that the whole export does not have."""
    columns = [name for name in whole.columns if name not in without and name in copy.columns]
    return copy.join(whole.select(columns).unique(), on=columns, how="anti", nulls_equal=True)


def amiss(whole: Reading, copy: Reading, export: Export, without: Sequence[str] = ("export_hash",)) -> Iterator[str]:
    """Yield what is wrong with the reading of a changed copy: invented rows, rows lost in silence, dumb refusals."""
    refused = of(copy.refused, export)
    for record, frame in rows_of(copy).items():
        mine = of(frame, export)
        strange = strange_rows(whole.frames.get(record, frame.clear()), mine, without)
        if strange.height:
            yield f"{record}: {_closest(whole.frames.get(record), strange)}"
    if not refused.height:
        for record, frame in rows_of(whole).items():
            got = of(copy.frames[record], export).height if record in copy.frames else 0
            if got != frame.height:
                yield f"{record}: {got} rows instead of {frame.height}, and nothing was refused"
    yield from dumb(refused)


def _closest(whole: pl.DataFrame | None, strange: pl.DataFrame) -> str:
    row = strange.row(0, named=True)
    line = row.get("source_line")
    if whole is not None and line is not None:
        for same in whole.filter(pl.col("source_line") == line).iter_rows(named=True):
            for name, value in same.items():
                if name != "export_hash" and row.get(name) != value:
                    return f"line {line} gives '{name}' {row.get(name)!r} instead of {value!r}"
    return f"line {line} gives a row the whole export does not have"


def dumb(refused: pl.DataFrame) -> Iterator[str]:
    """Yield what a technician could not act on: no reason, no remedy, an unknown code, the wording of a program."""
    for code, reason, remedy in refused.select("code", "reason", "remedy").unique(maintain_order=True).iter_rows():
        if code not in CATALOGUE:
            yield f"the code '{code}' is not in the catalogue"
        if not (reason or "").strip() or not (remedy or "").strip():
            yield f"a refusal '{code}' says no reason or no remedy"
        elif "Traceback (most recent" in reason:
            yield f"a refusal '{code}' shows the inside of a program: {reason[:80]!r}"
        elif code == "importer_failed":
            yield f"the importer failed instead of refusing: {reason[:160]}"


def answered(reading: Reading, exports: Sequence[Export]) -> Iterator[Export]:
    """Yield the exports that ended in neither rows nor refusals."""
    seen = set(reading.refused["export_hash"])
    for frame in reading.frames.values():
        seen |= set(frame["export_hash"].unique())
    yield from (export for export in exports if export.hash not in seen)


def written(frame: pl.DataFrame) -> str:
    """Return records as they are written down: without the hash, in the order of places."""
    return (
        _placed(frame)
        .drop("export_hash")
        .sort("source_part", "source_line", maintain_order=True)
        .write_csv(datetime_format="%Y-%m-%dT%H:%M:%S")
    )


def _placed(frame: pl.DataFrame) -> pl.DataFrame:
    types = {"source_part": pl.String(), "source_line": pl.Int64()}
    return frame.with_columns(
        pl.lit(None, kind).alias(name) for name, kind in types.items() if name not in frame.columns
    )
