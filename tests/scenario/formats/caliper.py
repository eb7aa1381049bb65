"""Write a caliper's log of one day: a line for each specimen and length, its readings side by side."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Length:
    """Readings in mm of one length of a specimen: `height`, `across` or `thickness`."""

    sample: str
    piece: str
    what: str
    read: datetime
    readings: tuple[float, ...]


def log(caliper: str, closed: datetime, lengths: Sequence[Length]) -> bytes:
    """Return the log of a day, UTF-8; the number of columns is that of the longest series."""
    columns = max(len(one.readings) for one in lengths)
    lines = [
        f"Lengths read with caliper {caliper}",
        f"closed: {closed:%d %b %Y %H:%M}",
        "",
        ",".join(["sample", "piece", "what", "unit", "time", *(f"r{n}" for n in range(1, columns + 1))]),
    ]
    for one in lengths:
        cells = [f"{reading:.1f}" for reading in one.readings]
        cells += [""] * (columns - len(cells))
        lines.append(",".join([one.sample, one.piece, one.what, "mm", f"{one.read:%d %b %Y %H:%M}", *cells]))
    return "\n".join([*lines, f"lines,{len(lengths)}", ""]).encode()
