"""What every kind of export is first turned into: tables of text cells that know export and line."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import polars as pl

from plugins.api import Export, Refusing
from plugins.layout.model import FILE_KEY, HEADER, Layout, TablePlan
from plugins.layout.section import near

#: Columns each table has beside its cells: position of the export in the batch, line or element, part.
PLACE: dict[str, pl.DataType] = {"export": pl.UInt32(), "line": pl.Int64(), "part": pl.String()}


@dataclass(frozen=True)
class Source:
    """One export of a batch with its bytes, or one block of it: `block` is then the line it begins at."""

    index: int
    export: Export
    content: bytes
    block: int | None = None

    def refusal(self, refusing: Refusing) -> dict[str, object]:
        """Return the refusal as a row: a fault of a block refuses the block at its line, not the whole export."""
        row = refusing.row(self.export.hash)
        return row if self.block is None else {"source_line": self.block} | row


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
    blocks
        The blocks of the exports, where the layout has blocks: they take the place of the exports.
    """

    tables: dict[str, pl.DataFrame] = field(default_factory=dict)
    counts: dict[str, pl.DataFrame] = field(default_factory=dict)
    refused: list[dict[str, object]] = field(default_factory=list)
    blocks: list[Source] | None = None


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
                for name in (plan.column, plan.unit_beside):
                    if name is not None:
                        wanted[name] = wanted.get(name, True) and plan.optional
        if record.table == table:
            for name in (record.present, *(condition.column for condition in record.where)):
                if name is not None:
                    wanted[name] = False
    return wanted


def header_needed(layout: Layout) -> dict[str, int]:
    """Return the header keys the layout uses -> how many values of their line it uses."""
    wanted: dict[str, int] = {}
    for record in layout.records:
        for plan in record.fields:
            if plan.header is not None and plan.header != FILE_KEY:
                wanted[plan.header] = max(wanted.get(plan.header, 1), plan.nth)
            if plan.unit_head is not None:
                wanted.setdefault(plan.unit_head, 1)
    for table in layout.tables.values():
        if table.declared:
            wanted.setdefault(table.declared.key, 1)
    return wanted


def chosen(layout: Layout, plan: TablePlan, names: Sequence[str], place: str) -> dict[int, str]:
    """Return the places of the columns used -> their names, of a table with a heading.

    Raises
    ------
    Refusing
        `duplicate` or `missing_column`; `place` says where the heading stands.
    """
    found: dict[int, str] = {}
    gathered = (plan.gather.name, plan.gather.value) if plan.gather else ()
    for name, optional in needed(layout, plan.name).items():
        if name in gathered:
            continue
        places = [at for at, one in enumerate(names) if one == name]
        if len(places) > 1:
            reason = f"{place}: the column '{name}' stands twice in the heading"
            raise Refusing("duplicate", reason, column_name=name)
        if not places and not optional:
            has = ", ".join(names)[:200]
            reason = f"{place}: the heading lacks the column '{name}'{near(name, tuple(names))}; it has {has}"
            raise Refusing("missing_column", reason, column_name=name)
        found |= dict.fromkeys(places, name)
    if plan.gather is not None:
        wide = {at: name for at, name in enumerate(names) if re.search(plan.gather.columns, name)}
        if not wide:
            raise Refusing("missing_column", f"{place}: no column is like '{plan.gather.columns}'")
        found |= wide
    return found


def gather(frame: pl.DataFrame, plan: TablePlan) -> pl.DataFrame:
    """Bring the columns of one meaning below each other; the rows of a line stay together."""
    if plan.gather is None:
        return frame
    names = {column: column[2:] for column in frame.columns if column.startswith("c.")}
    groups = {c: found[1] for c, name in names.items() if (found := re.search(plan.gather.columns, name))}
    kept_columns = [column for column in frame.columns if column not in groups]
    long = frame.with_row_index("row").unpivot(
        list(groups),
        index=["row", *kept_columns],
        variable_name=cell(plan.gather.name),
        value_name=cell(plan.gather.value),
    )
    ordered = long.sort("row", maintain_order=True).drop("row")
    return ordered.with_columns(pl.col(cell(plan.gather.name)).replace_strict(groups, return_dtype=pl.String))


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
