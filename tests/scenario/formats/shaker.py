"""Write a sieve shaker's log of one day: a line for each charge, a column for each sieve, quoted, commas between."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Shaken:
    """One charge: masses before and after washing, on each sieve (opening in mm) and in the pan, in g."""

    sample: str
    part: str
    begun: datetime
    ended: datetime
    unwashed: float
    washed: float
    sieves: Mapping[float, float]
    pan: float


def log(balance: str, saved: datetime, charges: Sequence[Shaken]) -> bytes:
    """Return the log of a day, UTF-8; a sieve a charge did not meet has an empty cell."""
    openings = sorted({opening for charge in charges for opening in charge.sieves}, reverse=True)
    names = ["Sample", "Part", "Begun", "Ended", "Unwashed g", "Washed g", *(f"On {o:g} mm" for o in openings), "Pan g"]
    lines = [f'"Shaker log","{balance}"', f'"Saved","{saved:%Y-%m-%d %H:%M}"', ",".join(f'"{name}"' for name in names)]
    for one in charges:
        on = [f"{one.sieves[opening]:.1f}" if opening in one.sieves else "" for opening in openings]
        times = [f'"{at:%Y-%m-%d %H:%M:%S}"' for at in (one.begun, one.ended)]
        masses = [f"{one.unwashed:.1f}", f"{one.washed:.1f}", *on, f"{one.pan:.1f}"]
        lines.append(",".join([f'"{one.sample}"', f'"{one.part}"', *times, *masses]))
    return "\n".join([*lines, f'"Charges",{len(charges)}', ""]).encode()
