"""Write weighing tickets as a balance prints them on a serial line: fixed columns, one block per ticket."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

_RULE = "+------------------------------+"
_WIDTH = 30


@dataclass(frozen=True)
class Ticket:
    """One ticket: readings are (label, value, unit) in the order printed."""

    station: str
    printed: datetime
    test: str
    sample: str
    portion: str
    readings: tuple[tuple[str, float, str], ...]
    taken: datetime


def _line(label: str, value: str) -> str:
    return label + value.rjust(_WIDTH - len(label))


def _block(ticket: Ticket) -> list[str]:
    return [
        _RULE,
        _line("STATION", ticket.station),
        _line("PRINTED", f"{ticket.printed:%d.%m.%Y %H:%M}"),
        _line("TEST", ticket.test),
        _line("SAMPLE", ticket.sample),
        _line("PORTION", ticket.portion),
        *(f"{_line(label, f'{value:.1f}')}  {unit}" for label, value, unit in ticket.readings),
        _line("TAKEN", f"{ticket.taken:%d.%m.%Y %H:%M}"),
        _RULE,
    ]


def slip(tickets: Sequence[Ticket]) -> bytes:
    """Return the captured tickets of one file, ASCII."""
    return "".join(f"{line}\n" for ticket in tickets for line in _block(ticket)).encode("ascii")
