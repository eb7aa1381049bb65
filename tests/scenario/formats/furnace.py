"""Write an ignition furnace's sheet of one day: one block for each charge, labels in capitals."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Burn:
    """One charge: masses before and after in g, times of lighting and taking out."""

    sample: str
    part: str
    lit: datetime
    out: datetime
    before: float
    after: float


def sheet(furnace: str, printed: datetime, burns: Sequence[Burn]) -> bytes:
    """Return the sheet of a day, ASCII."""
    lines = [f"BURN SHEET {furnace}   PRINTED {printed:%d %b %Y %H:%M}", ""]
    for burn in burns:
        lines += [
            f"CHARGE {burn.sample}   PART {burn.part}",
            f"  LIT {burn.lit:%d %b %Y %H:%M}   OUT {burn.out:%d %b %Y %H:%M}",
            f"  WENT IN {burn.before:9.1f} g   CAME OUT {burn.after:9.1f} g",
            "",
        ]
    return "\n".join(lines).encode("ascii")
