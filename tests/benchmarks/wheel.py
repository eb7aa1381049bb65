"""Wheel-tracking fits against a per-test loop: `python -m tests.benchmarks.wheel [TESTS PASSES [LOOPED]]`.

Defaults: 2,000 tests of 20,000 passes, a reading every pass; the loop runs over LOOPED tests (40) picked evenly, and
its time is scaled up. Prints ratios, and the largest difference between both.
"""

import sys
import time
from collections.abc import Callable

import numpy as np
from numpy.polynomial import Polynomial
from numpy.typing import NDArray

from pipeline.tracking import log_model, polynomial, two_lines

Floats = NDArray[np.float64]
FROM_PASS, STEP = 1000.0, 100.0


def records(tests: int, passes: Floats) -> Floats:
    """Return depths of tests that creep, half of which strip; noise and resolution as of a real machine."""
    rng = np.random.default_rng(324)
    depths = np.empty((tests, len(passes)))
    for test in range(tests):
        curve = rng.uniform(2, 4) * (passes / 10_000) ** rng.uniform(0.2, 0.35)
        if test % 2:
            curve += rng.uniform(0.5, 3) * np.expm1(np.maximum(passes - rng.uniform(4e3, 12e3), 0) / 12e3)
        depths[test] = np.round(curve + 0.02 * rng.standard_normal(len(passes)), 2)
    return depths


def lines_of_one(passes: Floats, depths: Floats) -> float:
    """Fit two lines that meet: a least squares at every break of the grid."""
    used = passes >= FROM_PASS
    x, y = passes[used], depths[used]
    best, found = np.inf, np.nan
    low, high = np.ceil(x[4] / STEP), np.floor(x[-5] / STEP)
    for knot in np.arange(low, high + 1) * STEP:
        z, k = x / x[-1], knot / x[-1]
        design = np.column_stack([np.ones_like(z), z, np.maximum(z - k, 0)])
        squares = np.linalg.lstsq(design, y, rcond=None)[1][0]
        if squares < best:
            best, found = squares, knot
    return float(found)


def polynomial_of_one(passes: Floats, depths: Floats) -> float:
    """Fit the polynomial and return its first inflection."""
    fitted = Polynomial.fit(passes, depths, 6)
    roots = fitted.deriv(2).roots()
    real = np.sort(roots[roots.imag == 0].real)
    inside = real[(real >= 200) & (real <= passes[-1])]
    return float(inside[0]) if len(inside) else np.nan


def log_model_of_one(passes: Floats, depths: Floats) -> float:
    """Fit the log model by Levenberg-Marquardt on all readings, from the same ladder of starts, all in numpy."""
    from pipeline.tracking.least_squares import solve

    start = log_model._log_start(passes, depths[None])
    done = solve(log_model._log_problem(np.log(passes), depths[None], passes[-1]), start)
    _, inverse, ultimate = done.parameters[0]
    return float(np.exp(ultimate - 1 - inverse))


def timed(work: Callable[[], Floats]) -> tuple[float, Floats]:
    started = time.perf_counter()
    found = work()
    return time.perf_counter() - started, found


def compare(
    what: str,
    passes: Floats,
    depths: Floats,
    whole: Callable[[], Floats],
    one: Callable[[Floats, Floats], float],
    looped: int,
) -> None:
    """Print times and ratio of all tests at once against the loop."""
    picked = np.linspace(0, len(depths) - 1, min(looped, len(depths))).round().astype(int)
    theirs, told = timed(lambda: np.array([one(passes, depths[test]) for test in picked]))
    ours, found = timed(whole)
    scaled = theirs * len(depths) / len(picked)
    both = ~np.isnan(found[picked]) & ~np.isnan(told)
    apart = np.abs(found[picked] - told)[both].max() if both.any() else np.nan
    print(
        f"{what:<28} all at once {ours:8.2f} s   loop {scaled:8.1f} s ({len(picked)} tests, scaled)   "
        f"loop / all {scaled / ours:7.1f}   largest difference {apart:.2g} passes",
        flush=True,
    )


def main(tests: int = 2000, readings: int = 20_000, looped: int = 40) -> None:
    passes = np.arange(1, readings + 1, dtype=np.float64)
    depths = records(tests, passes)
    print(f"{tests} tests x {readings} passes, {depths.nbytes / 1e6:.0f} MB of depths")

    def of_lines() -> Floats:
        fit = two_lines.fit(passes, depths, FROM_PASS)
        met = (fit["stripping_intercept"] - fit["creep_intercept"]) / (fit["creep_slope"] - fit["stripping_slope"])
        return np.asarray(met, dtype=np.float64)

    def of_polynomial() -> Floats:
        return np.asarray(polynomial.fit(passes, depths)["stripping_number"], dtype=np.float64)

    def of_log_model() -> Floats:
        size = max(1, log_model.BLOCK // len(passes))
        blocks = [log_model.stripping(passes, depths[at : at + size]) for at in range(0, tests, size)]
        return np.concatenate([block["stripping_number"] for block in blocks]).astype(np.float64)

    compare("(a) two lines", passes, depths, of_lines, lines_of_one, looped)
    compare("(b) polynomial", passes, depths, of_polynomial, polynomial_of_one, 5 * looped)
    compare("(c) log model", passes, depths, of_log_model, log_model_of_one, looped)


if __name__ == "__main__":
    main(*(int(given) for given in sys.argv[1:]))
