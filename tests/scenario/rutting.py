"""The physics of wheel tracking: creep, and in some mixes stripping; two wheels, eleven positions."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.scenario.plan import Sample

_SET_PASSES = 20_000
_STEP = 50
_STOP_MM = 16.0


@dataclass(frozen=True)
class Ruts:
    """Recorded passes (n), depths of both wheels (n x 11, mm), and what ended the test."""

    passes: NDArray[np.int64]
    left: NDArray[np.float64]
    right: NDArray[np.float64]
    set_passes: int
    ended_by: str


def _mean_curve(sample: Sample, passes: NDArray[np.int64], rng: np.random.Generator) -> NDArray[np.float64]:
    """Return the rut in the middle of the track: a N^b, and a rising part after the inflection where the mix strips."""
    at_10000, exponent = sample.mix.given["wheel"]
    curve: NDArray[np.float64] = at_10000 * np.exp(0.10 * rng.standard_normal()) * (passes / 10_000) ** exponent
    if sample.phase not in sample.mix.given.get("strip_phases", ()):
        return curve
    strip = sample.mix.given["strip"]
    start = strip[0] * np.exp(0.08 * rng.standard_normal())
    thousands = np.clip(passes - start, 0, None) / 1000
    stripped: NDArray[np.float64] = curve + strip[1] * thousands**1.2
    return stripped


def _wheel(curve: NDArray[np.float64], rng: np.random.Generator) -> NDArray[np.float64]:
    """Return depths at eleven positions: most in the middle, each a little different, sensor noise of 0.02 mm."""
    along = np.linspace(-1, 1, 11)
    profile = (1 - 0.30 * along**2) * (1 + 0.025 * rng.standard_normal(11))
    depths = np.outer(curve, profile) + 0.02 * rng.standard_normal((len(curve), 11))
    return np.clip(np.round(depths, 2), 0.0, None)


def ruts(sample: Sample, stopped_at: int | None, rng: np.random.Generator) -> Ruts:
    """Draw one test of two wheels; it ends at the set passes, at the depth stop, or where the operator stopped it."""
    passes = np.arange(_STEP, _SET_PASSES + 1, _STEP, dtype=np.int64)
    curve = _mean_curve(sample, passes, rng)
    sides = [_wheel(curve * np.exp(0.05 * rng.standard_normal()), rng) for _ in range(2)]
    deep = np.flatnonzero(np.maximum(sides[0], sides[1]).max(axis=1) >= _STOP_MM)
    rows, reason = len(passes), "passes"
    if len(deep):
        rows, reason = int(deep[0]) + 1, "depth"
    if stopped_at is not None:
        rows, reason = stopped_at // _STEP, "operator"
    return Ruts(passes[:rows], sides[0][:rows], sides[1][:rows], _SET_PASSES, reason)
