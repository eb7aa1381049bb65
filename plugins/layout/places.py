"""Fields and the cells they are read from: where the text stands, what of it is cleaned, which columns are clear."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import polars as pl

from plugins.layout.bound import BoundField
from plugins.layout.convert import clean, number_and_unit
from plugins.layout.model import FieldPlan, Layout
from plugins.layout.regular import is_plain
from plugins.layout.tables import cell, unit_of

#: Rows from which on a column is first tried as a whole.
_MANY = 1_000

#: What the columns for cleaned texts start with.
_TEXT = "t."


@dataclass(frozen=True)
class Cell:
    """One field read from one frame: where its text stands and how a fault names it."""

    field: BoundField
    source: str
    label: str
    key: str
    lines: str

    @property
    def text(self) -> str:
        """Return the frame column for the cleaned text."""
        own = f" ({self.field.plan.target})" if self.field.plan.absent else ""
        return _TEXT + self.source + own


def texts_of(layout: Layout, there: Collection[str], cells: Sequence[Cell]) -> list[pl.Expr]:
    """Return the cleaned text of each cell, and the units that stand inside; most cells are cleaned all together."""
    common = {found.source for found in cells if found.source in there and not found.field.plan.absent}
    texts: dict[str, pl.Expr] = {}
    for found in cells:
        plan = found.field.plan
        own = plan.absent or plan.unit_inside
        if found.source not in there:
            texts[found.text] = pl.lit(None, pl.String)
        elif own:
            text = clean(pl.col(found.source), (*layout.writing.absent, *plan.absent))
            if plan.absent:
                texts[found.text] = text
            if plan.unit_inside:
                texts[inside_of(plan)] = number_and_unit(text)[1]
    made = [text.alias(name) for name, text in texts.items()]
    return [*made, clean(pl.col(sorted(common)), layout.writing.absent).name.prefix(_TEXT)] if common else made


def clear_numbers(layout: Layout, rows: pl.DataFrame, cells: Sequence[Cell]) -> dict[int, pl.Series]:
    """Return the numbers of columns in which every cell is one as it stands: nothing of them needs a closer look."""
    schema = rows.schema
    read = {at: rows[one.source] for at, one in enumerate(cells) if schema.get(one.source) == pl.Float64}
    if layout.writing.decimal != "." or layout.writing.thousands or layout.writing.absent or rows.height < _MANY:
        return read
    plain = [number for number, found in enumerate(cells) if _is_plain(found, schema)]
    numbers = rows.select(pl.col(cells[at].source).cast(pl.Float64, strict=False).alias(f"n{at}") for at in plain)
    if numbers.is_empty():
        return read
    clear = numbers.select(pl.all().is_finite().fill_null(False).all()).row(0)
    return read | {at: numbers[f"n{at}"] for at, whole in zip(plain, clear, strict=True) if whole}


def _is_plain(found: Cell, schema: pl.Schema) -> bool:
    read = found.field.column.dtype == pl.Float64 and schema.get(found.source) == pl.String
    return read and is_plain(found.field) and beside_of(found.field.plan) not in schema


def units_beside(cells: Sequence[Cell], columns: Collection[str]) -> bool:
    """Return whether units stand beside values: which ones must be known before anything is converted."""
    return any(found.field.plan.unit_inside or beside_of(found.field.plan) in columns for found in cells)


def beside_of(plan: FieldPlan) -> str:
    """Return the frame column with the unit the export writes for the field, whether or not there is one."""
    if plan.unit_inside:
        return inside_of(plan)
    if plan.unit_head is not None and plan.column is not None and plan.take is None:
        return head_unit_of(plan.unit_head)
    beside = plan.unit_head or plan.unit_beside
    return cell(beside) if beside is not None else unit_of(plan.column or "")


def head_unit_of(key: str) -> str:
    """Return the frame column for the unit a header key gives a whole column."""
    return "h." + key


def with_head_units(rows: pl.DataFrame, header: pl.DataFrame, fields: Sequence[BoundField]) -> pl.DataFrame:
    """Put the units that header keys give whole columns beside the rows."""
    keys = {field.plan.unit_head for field in fields if field.plan.column is not None and field.plan.take is None}
    units = [clean(pl.col(cell(key))).alias(head_unit_of(key)) for key in sorted(key for key in keys if key)]
    if not units:
        return rows
    return rows.join(header.select("export", *units), on="export", how="left", maintain_order="left")


def inside_of(plan: FieldPlan) -> str:
    """Return the frame column for the units that stand in the cells of a field."""
    return "i." + plan.target
