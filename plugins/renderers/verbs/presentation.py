"""How figures, dates and texts are shown: unit system, decimal mark, date format, language; set by the tables."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import wraps
from typing import Any

import polars as pl

from plugins.renderers.verbs.tables import take
from schemas.units import SIEVE_DESIGNATIONS

#: Name of a date format -> pattern of it.
DATE_FORMATS = {"iso": "%Y-%m-%d", "dmy": "%d.%m.%Y", "mdy": "%m/%d/%Y"}
#: Pattern of a day -> pattern of its month.
_MONTHS = {"%Y-%m-%d": "%Y-%m", "%d.%m.%Y": "%m.%Y", "%m/%d/%Y": "%m/%Y"}
DECIMAL_MARKS = {"point": ".", "comma": ","}


@dataclass(frozen=True)
class Presentation:
    """What the workspace asks of its pages.

    Attributes
    ----------
    units
        `si`, or `us` for US customary units. The tables come converted already; this names sieves and labels axes.
    decimal_mark
        The mark itself.
    date_pattern
        As `strftime` takes it.
    language
        Name of a catalogue of texts.
    """

    units: str = "si"
    decimal_mark: str = "."
    date_pattern: str = DATE_FORMATS["iso"]
    language: str = "en"


_DEFAULT = Presentation()
_CURRENT: ContextVar[Presentation] = ContextVar("presentation", default=_DEFAULT)


def current() -> Presentation:
    """Return how things are shown in the pages being made."""
    return _CURRENT.get()


def length_unit() -> str:
    """Return the unit small lengths are shown in."""
    return "in" if current().units == "us" else "mm"


def sieve_name(opening: float) -> str | None:
    """Return what a sieve of an opening in mm is called where not by its opening: its designation in US units."""
    return SIEVE_DESIGNATIONS.get(opening) if current().units == "us" else None


def of(tables: Mapping[str, pl.DataFrame]) -> Presentation:
    """Return what the table `presentation` asks for; the defaults where it is not handed in."""
    asked = take(tables, "presentation")
    if asked.is_empty():
        return Presentation()
    units, mark, dates, language = asked.row(0)
    return Presentation(
        "us" if units == "us" else "si",
        DECIMAL_MARKS.get(mark, "."),
        DATE_FORMATS.get(dates, DATE_FORMATS["iso"]),
        language or "en",
    )


@contextmanager
def shown_as(asked: Presentation) -> Iterator[None]:
    """Show everything made inside the block in this way."""
    token = _CURRENT.set(asked)
    try:
        yield
    finally:
        _CURRENT.reset(token)


def presented(render: Callable[..., Iterable[Any]]) -> Callable[..., list[Any]]:
    """Make a renderer's `render` show everything as its tables ask."""

    @wraps(render)
    def made(self: Any, tables: Mapping[str, pl.DataFrame], scope: Any) -> list[Any]:
        with shown_as(of(tables)):
            return list(render(self, tables, scope))

    return made


def marked(text: pl.Expr) -> pl.Expr:
    """Return figures written with a point with the decimal mark that is asked for."""
    mark = current().decimal_mark
    return text if mark == "." else text.str.replace(".", mark, literal=True)


def day(value: pl.Expr) -> pl.Expr:
    """Return dates or times as text: the day in the format that is asked for."""
    return value.dt.strftime(current().date_pattern)


def month(value: pl.Expr) -> pl.Expr:
    """Return dates as text: month and year in the format that is asked for."""
    return value.dt.strftime(_MONTHS.get(current().date_pattern, "%Y-%m"))


def moment(value: pl.Expr) -> pl.Expr:
    """Return times as text: the day in the format that is asked for, and the time of day."""
    return value.dt.strftime(current().date_pattern + " %H:%M")
