"""Write an ignition furnace's sheet of one day: one block for each charge, labels in capitals."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Burn:
    """One charge: masses before and after in g, times of lighting and taking out; binder content if it was known."""

    sample: str
    part: str
    lit: datetime
    out: datetime
    before: float
    after: float
    known_pct: float | None = None

    def purpose(self) -> str:
        """Return what it was burnt for, as the sheet says it."""
        return "TEST" if self.known_pct is None else f"CALIBRATION, MADE WITH {self.known_pct:.2f} %"


def _last_minute(burn: Burn) -> float:
    """Return the change of mass in the last minute, %: the furnace stops by itself below 0.010."""
    return 0.001 * (2 + int(10 * burn.before) % 8)


def sheet(furnace: str, printed: datetime, burns: Sequence[Burn]) -> bytes:
    """Return the sheet of a day, ASCII."""
    lines = [f"BURN SHEET {furnace}   PRINTED {printed:%d %b %Y %H:%M}", ""]
    for burn in burns:
        lines += [
            f"CHARGE {burn.sample}   PART {burn.part}",
            f"  LIT {burn.lit:%d %b %Y %H:%M}   OUT {burn.out:%d %b %Y %H:%M}",
            f"  WENT IN {burn.before:9.1f} g   CAME OUT {burn.after:9.1f} g",
            f"  SET 538 C   LAST MINUTE {_last_minute(burn):.3f} %   FOR {burn.purpose()}",
            "",
        ]
    return "\n".join(lines).encode("ascii")
