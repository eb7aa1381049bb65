"""Write a day's weighings of one balance as a semicolon-delimited journal with decimal commas."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

_HEAD = "No;Time;Sample;Piece;Test;Weighed;Opening mm;Grams;Water °C"


@dataclass(frozen=True)
class Entry:
    """One mass of a journal: what was weighed, when, in grams; opening in mm, water in °C."""

    time: datetime
    sample: str
    piece: str
    test: str
    weighed: str
    grams: float
    opening: float | None = None
    water: float | None = None


def _comma(value: float | None, decimals: int) -> str:
    return "" if value is None else f"{value:.{decimals}f}".replace(".", ",")


def _opening(value: float | None) -> str:
    return "" if value is None else f"{value:g}".replace(".", ",")


def journal(balance: str, written: datetime, entries: Sequence[Entry], line_end: str = "\r\n") -> bytes:
    """Return the journal of one balance, Windows-1252, entries in the order given."""
    lines = [
        f"Weighing journal;{balance}",
        f"Written;{written:%Y-%m-%d %H:%M}",
        f"Entries;{len(entries)}",
        _HEAD,
    ]
    lines += [
        f"{number};{e.time:%Y-%m-%d %H:%M:%S};{e.sample};{e.piece};{e.test};{e.weighed};{_opening(e.opening)};"
        f"{_comma(e.grams, 1)};{_comma(e.water, 1)}"
        for number, e in enumerate(entries, start=1)
    ]
    lines += [f"End;{len(entries)}", ""]
    return line_end.join(lines).encode("cp1252")
