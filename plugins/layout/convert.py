"""Text cells -> values of a record's column: numbers, dates, words and units, with the fault of each bad cell."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import polars as pl

from plugins.layout.model import Writing
from schemas.describe import ColumnDescription
from schemas.units import UnknownUnitError, to_stored

_TRUTH = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}


@dataclass(frozen=True)
class Conversion:
    """How one text becomes a value: the expression, the code of its failure, and what was expected."""

    value: pl.Expr
    code: str
    expected: str


def clean(text: pl.Expr, absent: Sequence[str] = ()) -> pl.Expr:
    """Take white space off; a text that is nothing else, or a sentinel, is absent."""
    stripped = text.str.strip_chars()
    there = stripped != ""
    return pl.when(there & ~stripped.is_in(list(absent)) if absent else there).then(stripped)


def number_and_unit(text: pl.Expr) -> tuple[pl.Expr, pl.Expr]:
    """Part a cell such as `4.71 kg` into the text of its number and its unit, which is null where there is none."""
    number = text.str.extract(r"^([-+]?\d[\d.,' ]*(?:[eE][-+]?\d+)?)", 1).str.strip_chars()
    unit = text.str.extract(r"^[-+]?\d[\d.,' ]*(?:[eE][-+]?\d+)?\s*([^\d\s].*)$", 1)
    return pl.coalesce(number, text), unit


def conversion(
    text: pl.Expr,
    column: ColumnDescription,
    writing: Writing,
    words: Mapping[str, str] | None = None,
    unit: pl.Expr | None = None,
    given: str | None = None,
    units: Sequence[str] = (),
    times: float | None = None,
) -> Conversion:
    """Return how a cleaned text becomes a value of the column.

    Parameters
    ----------
    text, column, writing
        Expression of the cleaned text, column it is for, and how the export writes.
    words
        Look-up list: word of the export in lower case -> word of the vocabulary, or text of a number.
    unit
        Expression of the unit written beside the value, if the export writes one.
    given
        Unit of the export where none is written.
    units
        All units that `unit` takes in this batch.
    times
        Factor that is no unit.
    """
    if words is not None:
        looked_up = text.str.to_lowercase().replace_strict(dict(words), default=None, return_dtype=pl.String)
        inner = conversion(looked_up, column, writing)
        return Conversion(inner.value, "not_a_word", "one of " + ", ".join(f"'{word}'" for word in words))
    if column.words:
        word = pl.when(text.is_in(list(column.words))).then(text)
        return Conversion(word, "not_a_word", column.expected())
    if column.dtype in (pl.Date, pl.Datetime):
        return _moment(text, column, writing)
    if column.dtype == pl.Boolean:
        truth = text.str.to_lowercase().replace_strict(_TRUTH, default=None, return_dtype=pl.Boolean)
        return Conversion(truth, "not_a_word", "one of 'true', 'yes', 'false', 'no'")
    if column.dtype.is_numeric():
        return _number(text, column, writing, unit, given, units, times)
    return Conversion(text, "not_valid", "a text")


def _moment(text: pl.Expr, column: ColumnDescription, writing: Writing) -> Conversion:
    moments = [_local(text, form, writing) for form in writing.datetimes]
    if column.dtype == pl.Date:
        dates = [text.str.to_date(form, strict=False) for form in writing.dates]
        midnights = [pl.when(moment == moment.dt.truncate("1d")).then(moment.dt.date()) for moment in moments]
        return Conversion(pl.coalesce(*dates, *midnights), "not_a_date", "a date as " + " or ".join(writing.dates))
    return Conversion(pl.coalesce(*moments), "not_a_date", "a time as " + " or ".join(writing.datetimes))


def _local(text: pl.Expr, form: str, writing: Writing) -> pl.Expr:
    """Return the time as the laboratory's clocks show it; a time its zone skips or a form does not fit is null."""
    offset = "%z" in form or "%#z" in form
    moment = text.str.to_datetime(form, time_unit="us", strict=False)
    clock = writing.clock
    if clock is None:
        return moment.dt.replace_time_zone(None) if offset else moment
    if not offset:
        moment = moment.dt.replace_time_zone(clock.written, ambiguous="earliest", non_existent="null")
    return moment.dt.convert_time_zone(clock.laboratory).dt.replace_time_zone(None)


def _number(
    text: pl.Expr,
    column: ColumnDescription,
    writing: Writing,
    unit: pl.Expr | None,
    given: str | None,
    units: Sequence[str],
    times: float | None,
) -> Conversion:
    if writing.thousands is not None:
        # Only whole groups of three are thousands: a mark elsewhere may be a decimal mark of another hand.
        mark, point = re.escape(writing.thousands), re.escape(writing.decimal)
        grouped = text.str.contains(rf"^[-+]?\d{{1,3}}(?:{mark}\d{{3}})+(?:{point}\d*)?$")
        text = pl.when(grouped).then(text.str.replace_all(writing.thousands, "", literal=True)).otherwise(text)
    if writing.decimal == ",":
        # A point in an export that writes commas may part thousands or decimals: nobody may guess which.
        text = pl.when(~text.str.contains(".", literal=True)).then(text.str.replace(",", ".", literal=True))
    number = text.cast(pl.Float64, strict=False)
    number = pl.when(number.is_finite()).then(number)
    if times is not None:
        number = number * times
    if column.unit is not None:
        number = _stored(number, column.unit, unit, given or column.unit, units)
    mark = "comma" if writing.decimal == "," else "point"
    if column.dtype.is_integer():
        whole = pl.when(number == number.floor()).then(number.cast(column.dtype, strict=False))
        return Conversion(whole, "not_a_number", "a whole number")
    return Conversion(number, "not_a_number", f"a number with a decimal {mark}")


def _stored(number: pl.Expr, stored: str, unit: pl.Expr | None, given: str, units: Sequence[str]) -> pl.Expr:
    if unit is None:
        return to_stored(number, given, stored)
    written = [pl.when(unit == one).then(to_stored(number, one, stored)) for one in units if convertible(one, stored)]
    return pl.coalesce(pl.when(unit.is_null()).then(to_stored(number, given, stored)), *written)


def convertible(given: str, stored: str) -> bool:
    """Return whether a unit is known and measures what the stored unit measures."""
    try:
        to_stored(pl.lit(0.0), given, stored)
    except UnknownUnitError:
        return False
    return True
