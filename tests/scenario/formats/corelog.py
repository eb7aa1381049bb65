"""Write the log of the cores cut from one lot, as XML."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Cut:
    """One core: place in m, lift, and the readings of its thickness in mm."""

    number: str
    cut: datetime
    station: float
    offset: float
    lift: int
    around: tuple[float, ...]


def core_log(sample: str, caliper: str, kept: datetime, cores: Sequence[Cut]) -> bytes:
    """Return the log, UTF-8."""
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<coresCut sample="{sample}" caliper="{caliper}" kept="{kept:%Y-%m-%dT%H:%M}">',
    ]
    for core in cores:
        lines.append(
            f'<core no="{core.number}" cut="{core.cut:%Y-%m-%dT%H:%M}" station="{core.station:.1f}" '
            f'offset="{core.offset:.2f}" lift="{core.lift}">'
        )
        lines += [
            f'<around turn="{turn}" thick="{thick:.1f}" unit="mm"/>' for turn, thick in enumerate(core.around, start=1)
        ]
        lines.append("</core>")
    return "\n".join([*lines, "</coresCut>", ""]).encode()
