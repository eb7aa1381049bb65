"""Regular tables of plain numbers: parsed at once by polars' CSV reader, or left alone where a cell needs a look.

The reader and the cell-by-cell way agree on every cell the reader takes: a number is the same number, blank is null.
It gives up on anything else (rows of other lengths, blank lines, words, sentinels), and what is wrong is then said
by the cell-by-cell way, which knows line, column and text.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import polars as pl

from plugins.layout.bound import BoundField, BoundRecord
from plugins.layout.cut import Body
from plugins.layout.model import Layout, TablePlan
from plugins.layout.tables import Source, cell

#: Numbers beyond this are not exact as a float, so they are no whole numbers for certain.
_EXACT = float(1 << 53)


@dataclass(frozen=True)
class Plain:
    """What every cell of a column must be beside a number: `whole`, `required` (not blank)."""

    whole: bool
    required: bool


def plain_columns(layout: Layout, records: Sequence[BoundRecord]) -> dict[str, dict[str, Plain]]:
    """Return, per table that may be regular, the columns of which every use is a plain number."""
    return {name: found for name, plan in layout.tables.items() if (found := _plain(layout, plan, records))}


def _plain(layout: Layout, plan: TablePlan, records: Sequence[BoundRecord]) -> dict[str, Plain]:
    writing, delimiter = layout.writing, plan.delimiter
    marked = writing.decimal != "." or writing.thousands or writing.quote or writing.comment or writing.absent
    unusual = plan.places or plan.skip or plan.units or plan.gather
    if marked or unusual or len(delimiter) != 1 or not delimiter.isascii():
        return {}
    uses: dict[str, list[BoundField]] = {}
    text: set[str | None] = set()
    for record in records:
        if record.plan.table == plan.name:
            text |= {record.plan.present, *(condition.column for condition in record.plan.where)}
        for field in record.fields:
            if field.plan.column is not None and (field.plan.table or record.plan.table) == plan.name:
                uses.setdefault(field.plan.column, []).append(field)
                text.add(field.plan.unit_beside)
    return {
        name: Plain(any(one.column.dtype.is_integer() for one in fields), any(one.required for one in fields))
        for name, fields in uses.items()
        if name not in text and all(is_plain(field) for field in fields)
    }


def is_plain(field: BoundField) -> bool:
    """Return whether the field is a number as it stands in the cell, save for a unit that is the same in all rows."""
    plan, column = field.plan, field.column
    special = plan.words or plan.pattern or plan.unit_inside or plan.unit_from or plan.times is not None or plan.absent
    whole = column.dtype == pl.Int64 and plan.unit in (None, column.unit)
    return not special and not column.words and (column.dtype == pl.Float64 or whole)


def read(
    group: Sequence[tuple[Source, Body]], plan: TablePlan, plain: Mapping[str, Plain]
) -> tuple[pl.DataFrame, pl.DataFrame] | None:
    """Read the rows of exports whose tables have one heading; None where they are not regular throughout.

    Returns
    -------
    pair of DataFrame, or None
        `export`, `line`, `part`, and a column of cells for each used: Float64 where it is plain, else text.
        The rows of each export: `export`, `rows`.
    """
    filled = [(source, body) for source, body in group if body.text]
    names, used = (filled[0][1].heading, filled[0][1].used) if filled else ((), {})
    numbers = {at: plain[name] for at, name in used.items() if name in plain}
    if not numbers:
        return None
    texts = [body.text if body.text.endswith("\n") else body.text + "\n" for _, body in filled]
    text, heights = "".join(texts), [body.lines for _, body in filled]
    cells = _parsed(text, plan.delimiter, len(names), numbers)
    if cells is None or cells.height != sum(heights) or not _clear(cells, numbers):
        return None
    # The reader fills a row that is too short with nulls: without one in the last column there is no such row.
    if cells[str(len(names) - 1)].has_nulls() and text.count(plan.delimiter) != cells.height * (len(names) - 1):
        return None
    cells = cells.with_columns(pl.col(pl.String).fill_null("")) if len(names) > len(numbers) else cells
    counts = pl.DataFrame(
        {"export": [source.index for source, _ in filled], "rows": heights},
        schema={"export": pl.UInt32(), "rows": pl.UInt32()},
    )
    chosen = cells.select(pl.col(str(at)).alias(cell(name)) for at, name in used.items())
    return _placed(chosen, filled, counts), counts


def _placed(cells: pl.DataFrame, filled: Sequence[tuple[Source, Body]], counts: pl.DataFrame) -> pl.DataFrame:
    """Put export, line and part beside the cells; of one export the export is kept once, not row by row."""
    part = pl.lit(None, pl.String).alias("part")
    if len(filled) == 1:
        source, body = filled[0]
        line = pl.int_range(body.first, body.first + cells.height).alias("line")
        return cells.select(pl.lit(source.index, pl.UInt32).alias("export"), line, part, pl.all())
    first = pl.Series("first", [body.first for _, body in filled], pl.Int64())
    lines = pl.int_ranges(pl.lit(first), pl.lit(first) + pl.col("rows").cast(pl.Int64)).alias("line")
    return counts.lazy().select("export", lines).explode("line").with_columns(part).collect().hstack(cells)


def _parsed(text: str, delimiter: str, width: int, numbers: Mapping[int, Plain]) -> pl.DataFrame | None:
    """Return the cells, columns named by their places; None where the reader cannot take them all."""
    schema = {str(at): pl.Float64() if at in numbers else pl.String() for at in range(width)}
    try:
        return pl.read_csv(text.encode(), has_header=False, separator=delimiter, quote_char=None, schema=schema)
    except (pl.exceptions.PolarsError, UnicodeEncodeError):
        return None


def _clear(cells: pl.DataFrame, numbers: Mapping[int, Plain]) -> bool:
    """Return whether each number is what its column must hold; a row without any may be a blank line."""
    columns = pl.col([str(at) for at in numbers])
    required = [str(at) for at, wanted in numbers.items() if wanted.required]
    whole = pl.col([str(at) for at, wanted in numbers.items() if wanted.whole])
    checks = [
        columns.sum().is_finite().name.prefix("finite "),  # what is not finite makes the sum so
        pl.col(required).null_count().eq(0).name.prefix("there "),
        ((whole == whole.floor()) & (whole.abs() < _EXACT)).all().name.prefix("whole "),
    ]
    if not required:
        checks.append((~pl.all_horizontal(columns.is_null()).any()).alias("rows"))
    return all(cells.select(checks).row(0))
