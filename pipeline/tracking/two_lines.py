"""Creep and stripping line: continuous two-segment least squares, the break on a grid of passes."""

import numpy as np
from numpy.typing import NDArray

from pipeline.tracking.groups import Floats, Found, products, reasons, refused

NAMES = (
    "creep_slope",
    "creep_intercept",
    "stripping_slope",
    "stripping_intercept",
    "first_pass",
    "last_pass",
    "readings",
    "step",
    "rms",
)
#: Breaks stand at multiples of this many passes, or of as many times it as keep them at no more than `_BREAKS`.
STEP = 100.0
_BREAKS = 250
#: Readings that each line must have at least.
_PER_LINE = 5
#: Share of the scatter about one line that the second must take away at least, to be more than rounding.
_LEAST_GAIN = 1e-9


def fit(passes: Floats, depths: Floats, from_pass: float) -> Found:
    """Fit two lines that meet, to the readings from a stated pass on, for tests with the same passes.

    The sum of squares is least over both slopes, the level, and a break at each pass of the grid. A test whose best
    break is the first or last of the grid has no unique pair of lines.

    Parameters
    ----------
    passes, depths
        Shapes (readings,) and (tests, readings); mm.
    from_pass
        First pass fitted.

    Returns
    -------
    dict
        `NAMES`: slopes in mm/pass, intercepts and root mean square of the residuals in mm.
    """
    start = int(np.searchsorted(passes, from_pass))
    used, rows = passes[start:], depths[:, start:]
    breaks, step = _grid(used)
    if len(breaks) < 3:
        why = f"two lines not fitted: {len(used)} readings from pass {from_pass:.0f} on leave no room for a break"
        return refused(len(depths), NAMES, why)
    middle, half = (used[0] + used[-1]) / 2, (used[-1] - used[0]) / 2
    z, knots = (used - middle) / half, (breaks - middle) / half
    line, hinges, across = _basis(z, knots)
    # The part of each record that a hinge at each break explains beyond one line: one product for all tests.
    best = np.argmax(np.abs(rows @ across), axis=1)
    gain = _gain(rows, np.ascontiguousarray(across.T), best)
    bend = gain / np.einsum("ij,ij->j", across, hinges)[best]
    projected = products(rows, np.ascontiguousarray(line.T))
    scatter = np.einsum("ij,ij->i", rows, rows) - np.einsum("ij,ij->i", projected, projected)
    level, slope = _line(projected - bend[:, None] * (line.T @ hinges)[:, best].T, line, z)
    ends = {"first_pass": used[0], "last_pass": used[-1], "readings": float(len(used)), "step": step}
    return {
        **_in_passes(level, slope, bend, knots[best], middle, half),
        **{name: np.full(len(rows), value) for name, value in ends.items()},
        "rms": np.sqrt(np.maximum(scatter - gain**2, 0) / len(used)),
        "why": _why(gain**2, scatter, rows, best, len(breaks)),
    }


def _basis(z: Floats, knots: Floats) -> tuple[Floats, Floats, Floats]:
    """Return an orthonormal basis of straight lines, a hinge at each break, and its unit part across all lines."""
    line = np.linalg.qr(np.column_stack([np.ones_like(z), z]))[0]
    hinges = np.maximum(z[:, None] - knots, 0)
    across = hinges - line @ (line.T @ hinges)
    across /= np.linalg.norm(across, axis=0)
    return line, hinges, across


def _gain(rows: Floats, across: Floats, best: NDArray[np.intp]) -> Floats:
    """Return what the hinge at each test's best break explains, break by break."""
    gain = np.empty(len(rows))
    for place in np.unique(best):
        tests = np.flatnonzero(best == place)
        gain[tests] = np.einsum("ij,j->i", rows[tests], across[place])
    return gain


def _grid(used: Floats) -> tuple[Floats, float]:
    """Return the passes at which the lines may meet, and their step."""
    if len(used) < 2 * _PER_LINE:
        return np.empty(0), STEP
    low, high = used[_PER_LINE - 1], used[-_PER_LINE]
    step = STEP * max(1.0, np.ceil((high - low) / STEP / _BREAKS))
    return np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step, float(step)


def _line(projected: Floats, line: Floats, z: Floats) -> tuple[Floats, Floats]:
    """Return level and slope over z of the line with these parts along the orthonormal basis."""
    ends = products(projected, line[[0, -1]])
    slope = (ends[:, 1] - ends[:, 0]) / (z[-1] - z[0])
    return ends[:, 0] - slope * z[0], slope


def _in_passes(level: Floats, slope: Floats, bend: Floats, knot: Floats, middle: float, half: float) -> Found:
    creep, stripping = slope / half, (slope + bend) / half
    return {
        "creep_slope": creep,
        "creep_intercept": level - creep * middle,
        "stripping_slope": stripping,
        "stripping_intercept": level - bend * knot - stripping * middle,
    }


def _why(gained: Floats, scatter: Floats, rows: Floats, best: NDArray[np.intp], breaks: int) -> NDArray[np.object_]:
    size = np.einsum("ij,ij->i", rows, rows)
    return reasons(
        len(rows),
        (
            (gained <= _LEAST_GAIN * scatter) | (scatter <= 1e-13 * size),
            "two lines not found: one line fits the record as well",
        ),
        (
            (best == 0) | (best == breaks - 1),
            "two lines not identifiable: the best break is at the edge of the fitted passes",
        ),
    )
