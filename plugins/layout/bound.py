"""A layout held against the schemas: every record, column, word and unit it names must exist there."""

from dataclasses import dataclass, field
from typing import Any

from plugins.layout.model import FieldPlan, Layout, RecordPlan
from plugins.layout.section import LayoutError, near
from schemas import catalogue
from schemas.describe import ColumnDescription, Description, describe

#: Columns the engine fills itself.
_FILLED = ("export_hash", "source_part", "source_line")


@dataclass(frozen=True)
class BoundField:
    """A field of the layout with the column it fills; `required` where a row without it is refused.

    `made` keeps the conversions worked out for it (`plugins.layout.shape`), which are the same for every batch.
    """

    plan: FieldPlan
    column: ColumnDescription
    required: bool
    made: dict[str, Any] = field(default_factory=dict, compare=False, repr=False)


@dataclass(frozen=True)
class BoundRecord:
    """A record of the layout with its description."""

    plan: RecordPlan
    description: Description
    fields: tuple[BoundField, ...]


def bind(layout: Layout) -> tuple[BoundRecord, ...]:
    """Return the records of the layout tied to their schemas.

    Raises
    ------
    LayoutError
        At the line of the layout that names something the schemas do not have, or leaves out what they need.
    """
    _check_patterns(layout)
    return tuple(_record(layout, plan) for plan in layout.records)


def _check_patterns(layout: Layout) -> None:
    """Refuse a pattern that only the slower engine of the language knows: look-around and references back."""
    import polars as pl

    patterns = [(plan.pattern, plan.line) for record in layout.records for plan in record.fields]
    patterns += [(one.pattern, record.line) for record in layout.records for one in record.where]
    patterns += [(pattern, 1) for pattern in layout.header.patterns.values()]
    for pattern, line in patterns:
        try:
            pl.select(pl.lit("").str.contains(pattern or ""))
        except pl.exceptions.ComputeError as fault:
            sentence = f"the pattern '{pattern}' cannot be used: write it without look-around and references back"
            raise LayoutError(layout.source, line, sentence) from fault


def _record(layout: Layout, plan: RecordPlan) -> BoundRecord:
    known = tuple(catalogue.records())
    if plan.record not in known:
        sentence = f"there is no record '{plan.record}'{near(plan.record, known)}; records are {', '.join(known)}"
        raise LayoutError(layout.source, plan.line, sentence)
    description = describe(plan.record)
    fields = tuple(_field(layout, each, description) for each in plan.fields)
    given = {each.column.name for each in fields}
    for column in description.columns:
        if not column.nullable and column.name not in given and column.name not in _FILLED:
            raise LayoutError(layout.source, plan.line, f"the record '{plan.record}' needs the field '{column.name}'")
    return BoundRecord(plan, description, fields)


def _field(layout: Layout, plan: FieldPlan, description: Description) -> BoundField:
    names = tuple(description.schema())
    if plan.target not in names or plan.target in _FILLED:
        sentence = f"the record '{description.name}' has no field '{plan.target}'{near(plan.target, names)}"
        raise LayoutError(layout.source, plan.line, sentence)
    column = description.column(plan.target)
    given = [plan.constant] if plan.constant is not None else []
    if plan.words:
        given = list(layout.words[plan.words].values())
    for word in given if column.words else ():
        if word not in (column.words or ()):
            raise LayoutError(layout.source, plan.line, f"'{word}' is no word of '{plan.target}': {column.expected()}")
    if plan.unit is not None:
        _check_unit(layout, plan, column)
    return BoundField(plan, column, plan.required or not column.nullable)


def _check_unit(layout: Layout, plan: FieldPlan, column: ColumnDescription) -> None:
    from plugins.layout.convert import convertible

    if column.unit is None:
        raise LayoutError(layout.source, plan.line, f"'{plan.target}' has no unit, so 'unit' has no meaning here")
    if not convertible(plan.unit or "", column.unit):
        sentence = f"the unit '{plan.unit}' of '{plan.target}' cannot be converted to '{column.unit}'"
        raise LayoutError(layout.source, plan.line, sentence)
