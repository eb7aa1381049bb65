"""Write the pans of one day in a drying oven: a block for each pan, its weighings to constant mass."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Pan:
    """One pan: masses in g, empty and with the moist mixture; weighings of (minutes, oven in °C, g)."""

    sample: str
    part: str
    put_in: datetime
    empty: float
    moist: float
    weighings: tuple[tuple[int, float, float], ...]


def drying_day(balance: str, saved: datetime, pans: Sequence[Pan]) -> bytes:
    """Return the day, UTF-8, decimal commas."""
    lines = [f"DRYING DAY;{balance}", f"saved;{saved:%Y-%m-%d %H:%M}"]
    for pan in pans:
        lines += [
            "",
            f"pan;{pan.sample};{pan.part}",
            f"put in;{pan.put_in:%Y-%m-%d %H:%M}",
            f"empty;{pan.empty:.1f}".replace(".", ","),
            f"with mixture;{pan.moist:.1f}".replace(".", ","),
            "weighing;minutes;oven;grams",
        ]
        lines += [
            f"{number};{minutes};{oven:.0f};{grams:.1f}".replace(".", ",")
            for number, (minutes, oven, grams) in enumerate(pan.weighings, start=1)
        ]
        lines.append(f"dry;{len(pan.weighings)}")
    return "\n".join([*lines, ""]).encode()
