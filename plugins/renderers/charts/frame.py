"""Frames of curve plots: domains, ticks and their labels; few distinct ones serve all pages."""

import math
from dataclasses import dataclass
from functools import lru_cache

from plugins.renderers.verbs.figures import spaced
from plugins.renderers.verbs.presentation import Presentation, current

WIDTH, HEIGHT = 460, 260
LEFT, RIGHT, TOP, BOTTOM = 46, 24, 12, 40
#: Width of a letter of a tick's name, on average, with the space between names.
_LETTER = 6.0


@dataclass(frozen=True)
class Axis:
    """One axis: domain (start, end; start may lie above end), ticks, title with unit, logarithmic or to a power.

    `names` are what values are called that are not told by their figures, such as openings by the names of sieves.
    """

    start: float
    end: float
    ticks: tuple[float, ...]
    title: str
    log: bool = False
    power: float = 1.0
    names: tuple[tuple[float, str], ...] = ()

    def name(self, value: float) -> str:
        """Return what a value is called at the axis."""
        return dict(self.names).get(value, spaced(value))

    def share(self, value: float) -> float:
        """Return the position of a value along the axis, 0 to 1."""
        if self.log:
            return math.log(value / self.start) / math.log(self.end / self.start)
        start, end = self.start**self.power, self.end**self.power
        return float((value**self.power - start) / (end - start))


def x_place(axis: Axis, value: float) -> float:
    """Return the horizontal place of a value in the plot."""
    return round(LEFT + axis.share(value) * (WIDTH - LEFT - RIGHT), 1)


def y_place(axis: Axis, value: float) -> float:
    """Return the vertical place of a value in the plot; the axis runs upwards."""
    return round(HEIGHT - BOTTOM - axis.share(value) * (HEIGHT - TOP - BOTTOM), 1)


def frame_svg(x: Axis, y: Axis) -> str:
    """Return grid, ticks and titles of a plot."""
    return _frame_svg(x, y, current())


@lru_cache(maxsize=256)
def _frame_svg(x: Axis, y: Axis, _: Presentation) -> str:
    bottom, right = HEIGHT - BOTTOM, WIDTH - RIGHT
    parts = []
    for tick in y.ticks:
        place = y_place(y, tick)
        parts.append(f'<path class="grid" d="M{LEFT} {place}H{right}"/>')
        parts.append(f'<text x="{LEFT - 6}" y="{place + 4}" text-anchor="end">{y.name(tick)}</text>')
    taken = float(-WIDTH)
    for tick in sorted(x.ticks, key=x.share):
        place, name = x_place(x, tick), x.name(tick)
        parts.append(f'<path class="grid" d="M{place} {TOP}V{bottom}"/>')
        half = _LETTER * len(name) / 2
        # A name that would cover the one before it is left out; its line of the grid stays.
        if place - half >= taken:
            parts.append(f'<text x="{place}" y="{bottom + 15}" text-anchor="middle">{name}</text>')
            taken = place + half
    parts.append(f'<text x="{(LEFT + right) / 2}" y="{HEIGHT - 6}" text-anchor="middle">{x.title}</text>')
    middle = (TOP + bottom) / 2
    parts.append(f'<text transform="translate(12 {middle}) rotate(-90)" text-anchor="middle">{y.title}</text>')
    return "".join(parts)
