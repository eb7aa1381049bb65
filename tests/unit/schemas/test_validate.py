"""The one pass over a whole frame agrees with pandera, the library that states each record's rules."""

from datetime import date, datetime
from typing import Any

import pandera.errors
import polars as pl
import pytest

from schemas import catalogue
from schemas.describe import ColumnDescription, describe
from schemas.validate import _keeps, conform, validate

RECORDS = sorted(catalogue.records())


def fitting(column: ColumnDescription) -> Any:
    if column.words:
        return column.words[0]
    if column.dtype.is_numeric():
        low = column.at_least if column.at_least is not None else column.above
        high = column.at_most
        if low is None or high is None:
            return (low + 1) if low is not None else high if high is not None else 1
        return int(high) if column.dtype.is_integer() else (low + high) / 2
    others = ((pl.Date, date(2026, 5, 7)), (pl.Datetime, datetime(2026, 5, 7)), (pl.Boolean, True))
    return next((value for dtype, value in others if column.dtype == dtype), "text")


def breaking(column: ColumnDescription) -> list[Any]:
    """Return a value beyond each rule, and what sits just on the bounds or is no number."""
    found: list[Any] = [None]
    if column.words:
        found.append("no such word")
    if column.dtype.is_numeric():
        bounds = [one for one in (column.above, column.at_least, column.at_most) if one is not None]
        found += [one + step for one in bounds for step in (-1, 0, 1)]
        found += [] if column.dtype.is_integer() else [float("nan"), float("inf"), -float("inf")]
    return found


def library_refuses(frame: pl.DataFrame, record: str) -> set[int]:
    """Return the rows the library refuses."""
    try:
        catalogue.records()[record].validate(frame, lazy=True)
    except pandera.errors.SchemaErrors as fault:
        return set(fault.failure_cases["index"].to_list())
    return set()


@pytest.mark.parametrize("record", RECORDS)
def test_one_pass_agrees_with_the_library_on_every_rule(record: str) -> None:
    columns = describe(record).columns
    good = {column.name: fitting(column) for column in columns}
    rows = [good, *(good | {column.name: value} for column in columns for value in breaking(column))]
    frame = conform(
        pl.DataFrame(
            {column.name: pl.Series([row[column.name] for row in rows], dtype=column.dtype) for column in columns}
        ),
        record,
    )
    refused = {row for row in range(frame.height) if not _keeps(frame[row : row + 1], record)}
    assert refused == library_refuses(frame, record)
    assert 0 not in refused and refused
    assert validate(frame, record).accepted.height == frame.height - len(refused)


@pytest.mark.parametrize("record", RECORDS)
def test_no_record_has_a_rule_its_description_does_not_tell(record: str) -> None:
    schema = catalogue.records()[record].to_schema()
    assert not schema.checks
    assert not schema.unique
    assert not any(column.unique for column in schema.columns.values())
