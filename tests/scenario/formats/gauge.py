"""Write a round of a density gauge: standard counts above, a line for each reading."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

#: A pound per cubic foot in kg/m³: international yard and pound agreement, 1959.
_UNITS = {"kg/m³": (1.0, 0), "lb/ft³": (16.01846337, 1)}


@dataclass(frozen=True)
class Reading:
    """One reading: place, turn of the gauge there, station and offset in m, density in kg/m³, moisture in %."""

    place: str
    turn: int
    station: float
    offset: float
    density: float
    moisture: float


@dataclass(frozen=True)
class Round:
    """All readings at the places of one lot; `added`: correlation in force, kg/m³."""

    gauge: str
    sample: str
    begun: datetime
    kept: datetime
    unit: str
    standard: tuple[int, int]
    added: float | None
    readings: Sequence[Reading]


def gauge_round(one: Round) -> bytes:
    """Return the round, UTF-8."""
    size, decimals = _UNITS[one.unit]
    added = "none" if one.added is None else f"{one.added / size:.1f} {one.unit}"
    head = [
        f"GAUGE ROUND {one.gauge}",
        f"sample = {one.sample}",
        f"begun = {one.begun:%Y-%m-%d %H:%M}",
        f"kept = {one.kept:%Y-%m-%d %H:%M}",
        f"standard density = {one.standard[0]}",
        f"standard moisture = {one.standard[1]}",
        f"to be added = {added}",
        "",
        f"place,turn,station [m],offset [m],density [{one.unit}],moisture [%]",
    ]
    rows = [
        f"{r.place},{r.turn},{r.station:.1f},{r.offset:.2f},{r.density / size:.{decimals}f},{r.moisture:.1f}"
        for r in one.readings
    ]
    return "\n".join([*head, *rows, f"readings,{len(rows)}", ""]).encode()
