"""What every kind of export is first turned into: tables of text cells that know export and line."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import polars as pl

from plugins.api import Export
from plugins.layout.model import HEADER, Layout

#: Columns each table has beside its cells: position of the export in the batch, line or element, part.
PLACE: dict[str, pl.DataType] = {"export": pl.UInt32(), "line": pl.Int64(), "part": pl.String()}


@dataclass(frozen=True)
class Source:
    """One export of a batch with its bytes."""

    index: int
    export: Export
    content: bytes


@dataclass
class Raw:
    """Tables as text, the number of rows each export has in each, and the refusals so far.

    Attributes
    ----------
    tables
        Table name -> frame with `PLACE` and cells; `header` has one row for each readable export.
    counts
        Table name -> frame with `export` and `rows`, for the exports that have the table.
    refused
        Rows of `plugins.api.REFUSALS`.
    """

    tables: dict[str, pl.DataFrame] = field(default_factory=dict)
    counts: dict[str, pl.DataFrame] = field(default_factory=dict)
    refused: list[dict[str, object]] = field(default_factory=list)


def cell(name: str, value: int = 1) -> str:
    """Return the frame column that holds the cells of a column or header key; `value` tells values of a line apart."""
    return f"c.{name}" if value == 1 else f"c.{name}#{value}"


def line_of(name: str) -> str:
    """Return the frame column that holds the lines of single cells, where a table knows them."""
    return "l." + name


def unit_of(name: str) -> str:
    """Return the frame column that holds the units written beside the cells, where a table has them."""
    return "u." + name


def taken(table: str, column: str) -> str:
    """Return the header key under which the last value of a table's column is kept."""
    return f"last of {table}: {column}"


def needed(layout: Layout, table: str) -> dict[str, bool]:
    """Return the columns of a table that the layout uses -> whether the export may lack them."""
    wanted: dict[str, bool] = {}
    for record in layout.records:
        for plan in record.fields:
            if plan.column is not None and (plan.table or record.table) == table:
                for name in (plan.column, plan.unit_from):
                    if name is not None:
                        wanted[name] = wanted.get(name, True) and plan.optional
        if record.present is not None and record.table == table:
            wanted.setdefault(record.present, False)
    return wanted


def header_needed(layout: Layout) -> dict[str, int]:
    """Return the header keys the layout uses -> how many values of their line it uses."""
    wanted: dict[str, int] = {}
    for record in layout.records:
        for plan in record.fields:
            if plan.header is not None:
                wanted[plan.header] = max(wanted.get(plan.header, 1), plan.value)
                if plan.unit_from is not None:
                    wanted.setdefault(plan.unit_from, 1)
    for table in layout.tables.values():
        if table.declared:
            wanted.setdefault(table.declared.header, 1)
    return wanted


def with_place(frame: pl.DataFrame, index: int, part: str | None = None) -> pl.DataFrame:
    """Add export and part to the rows of one export that already have their lines."""
    return frame.with_columns(pl.lit(index, pl.UInt32).alias("export"), pl.lit(part, pl.String).alias("part"))


def stack(frames: Sequence[pl.DataFrame], columns: Iterable[str]) -> pl.DataFrame:
    """Put frames of several exports below each other; a cell column none has is null text."""
    schema = {**PLACE, **{cell(name): pl.String() for name in columns}}
    empty = pl.DataFrame(schema=schema)
    return pl.concat([*frames, empty], how="diagonal_relaxed") if frames else empty


def header_frame(rows: list[dict[str, object]], layout: Layout) -> pl.DataFrame:
    """Return the header table from one mapping per export (`export`, `line`, cells and their lines)."""
    schema: dict[str, pl.DataType] = dict(PLACE)
    for key, values in header_needed(layout).items():
        schema |= {cell(key, value): pl.String() for value in range(1, values + 1)}
        schema[line_of(key)] = pl.Int64()
    return pl.DataFrame(rows, schema=schema)


def kept(raw: Raw, dropped: Iterable[int]) -> None:
    """Take exports that are refused as a whole out of every table."""
    gone = list(dropped)
    if not gone:
        return
    outside = ~pl.col("export").is_in(pl.Series(gone, dtype=pl.UInt32).implode())
    raw.tables = {name: frame.filter(outside) for name, frame in raw.tables.items()}
    raw.counts = {name: frame.filter(outside) for name, frame in raw.counts.items()}


def header_of(raw: Raw) -> pl.DataFrame:
    """Return the header table."""
    return raw.tables[HEADER]
