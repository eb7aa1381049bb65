"""The logarithmic model of rut depth, and the viscoplastic and stripping curves that rest on its stripping number."""

import numpy as np
from numpy.typing import NDArray

from pipeline.tracking.groups import Floats, Found, reasons, refused
from pipeline.tracking.least_squares import BLOCK, Problem, Solution, solve

NAMES = (
    "stripping_number",
    "passes_ultimate",
    "rho",
    "beta",
    "depth_ultimate",
    "alpha",
    "exponent",
    "stripping_depth",
    "stripping_rate",
    "first_pass",
    "last_pass",
    "readings",
    "rms",
)
#: Bounds: N ult up to so many times the last pass; 1/beta; largest viscoplastic depth in mm.
ULTIMATE_AT_MOST = 5.0
INVERSE_BETA = (0.05, 20.0)
DEPTH_AT_MOST = 50.0
_BEYOND_LAST = 1.0005
_LEAST_READINGS = 8
#: Readings of the first approach; the last word has all of them.
_THINNED = 300


def fit(passes: Floats, depths: Floats) -> Found:
    """Fit R = rho [ln(Nult/N)]^(-1/beta) to all readings as recorded, and the curves before and after its LCSN.

    Parameters
    ----------
    passes, depths
        Shapes (readings,) and (tests, readings); mm, not zeroed.

    Returns
    -------
    dict
        `NAMES`, and reasons: `why` for the stripping number, `why_viscoplastic` and `why_stripping` for the curves.
    """
    start = int(np.searchsorted(passes, 1.0))
    used, rows = passes[start:], depths[:, start:]
    if len(used) < _LEAST_READINGS or used[-1] < 10 * used[0]:
        why = f"log model not fitted: {len(used)} readings, or less than a decade of passes"
        none = refused(len(depths), NAMES, why)
        return none | {"why_viscoplastic": none["why"], "why_stripping": none["why"]}
    size = max(1, BLOCK // len(used))
    blocks = [_block(used, rows[at : at + size]) for at in range(0, len(rows), size)]
    found = {name: np.concatenate([block[name] for block in blocks]) for name in blocks[0]}
    count = len(rows)
    ends = {"first_pass": used[0], "last_pass": used[-1], "readings": float(len(used))}
    return found | {name: np.full(count, value) for name, value in ends.items()}


def _block(passes: Floats, rows: Floats) -> Found:
    found = stripping(passes, rows)
    return found | _curves(passes, rows, found)


def stripping(passes: Floats, rows: Floats) -> Found:
    """Return the model's parameters and stripping number LCSN = Nult exp(-(beta + 1)/beta)."""
    approach = _approach(passes)
    thin = np.ascontiguousarray(rows[:, approach])
    first = solve(_log_problem(np.log(passes[approach]), thin, passes[-1]), _log_start(passes[approach], thin))
    done = solve(_log_problem(np.log(passes), rows, passes[-1]), first.parameters)
    log_rho, inverse, log_ultimate = done.parameters.T
    number = np.exp(log_ultimate - 1 - inverse)
    return {
        "stripping_number": number,
        "passes_ultimate": np.exp(log_ultimate),
        "rho": np.exp(log_rho),
        "beta": 1 / inverse,
        "rms": np.sqrt(done.squares / len(passes)),
        "why": _why(done, number, passes[-1], rows),
    }


def _approach(passes: Floats) -> NDArray[np.intp]:
    """Return the places of the readings that a first approach goes by, evenly spread."""
    return np.unique(np.linspace(0, len(passes) - 1, min(_THINNED, len(passes))).round().astype(np.intp))


def _why(done: Solution, number: Floats, last: float, rows: Floats) -> NDArray[np.object_]:
    ultimate = done.parameters[:, 2]
    far = ultimate >= np.log(ULTIMATE_AT_MOST * last) - 1e-9
    return reasons(
        len(rows),
        (np.asarray((rows <= 0).all(axis=1)), "log model not fitted: no depth above zero"),
        (~done.settled, "log model did not converge"),
        (
            far,
            "no stripping number within the test: not identifiable, the fit ends on the bound "
            f"N ult = {ULTIMATE_AT_MOST:g} times the last pass",
        ),
        (done.on_bound, "log model not identifiable: a parameter ends on its bound"),
        (number > last, "no stripping number within the test: LCSN lies beyond the last pass"),
    )


def _log_problem(log_passes: Floats, rows: Floats, last: float) -> Problem:
    def model(parameters: Floats, tests: NDArray[np.intp]) -> tuple[Floats, list[Floats]]:
        log_rho, inverse, log_ultimate = (column[:, None] for column in parameters.T)
        left = log_ultimate - log_passes
        log_left = np.log(left)
        values = np.exp(log_rho - inverse * log_left)
        np.multiply(log_left, values, out=log_left)
        np.divide(values, left, out=left)
        return values, [values, np.negative(log_left, out=log_left), np.multiply(left, -inverse, out=left)]

    ends = (np.log(_BEYOND_LAST * last), np.log(ULTIMATE_AT_MOST * last))
    lower, upper = ((np.log(1e-4), INVERSE_BETA[0], ends[0]), (np.log(1e4), INVERSE_BETA[1], ends[1]))
    shape = (len(rows), 3)
    return Problem(model, rows, np.broadcast_to(lower, shape), np.broadcast_to(upper, shape))


def _log_start(passes: Floats, rows: Floats) -> Floats:
    """Return the best of a ladder of N ult, where logarithms make the other two a straight line."""
    log_passes = np.log(passes)
    ladder = np.log(passes[-1]) + np.linspace(np.log(1.01), np.log(ULTIMATE_AT_MOST) - 0.02, 24)
    depth = np.log(np.maximum(rows, 1e-3))
    weight = np.maximum(rows, 1e-3) ** 2
    best, start = np.full(len(rows), np.inf), np.zeros((len(rows), 3))
    for ultimate in ladder:
        x = -np.log(ultimate - log_passes)
        level, slope = _weighted_line(x, depth, weight)
        slope = np.clip(slope, *INVERSE_BETA)
        rest = np.exp(np.minimum(level[:, None] + slope[:, None] * x, 50)) - rows
        squares = np.einsum("ij,ij->i", rest, rest)
        better = squares < best
        best = np.where(better, squares, best)
        start[better] = np.column_stack([level, slope, np.full_like(level, ultimate)])[better]
    return start


def _weighted_line(x: Floats, y: Floats, weight: Floats) -> tuple[Floats, Floats]:
    """Return level and slope of the weighted straight line of each row; `x` is shared or a row per test."""
    total = weight.sum(axis=1)
    mean_x, mean_y = (weight * x).sum(axis=1) / total, (weight * y).sum(axis=1) / total
    across = np.broadcast_to(x, y.shape) - mean_x[:, None]
    spread = (weight * across * across).sum(axis=1)
    slope = (weight * across * (y - mean_y[:, None])).sum(axis=1) / np.where(spread > 0, spread, 1)
    return mean_y - slope * mean_x, slope


def _curves(passes: Floats, rows: Floats, found: Found) -> Found:
    """Fit the viscoplastic curve up to the stripping number, and the stripping curve from there on."""
    count = len(rows)
    names = ("depth_ultimate", "alpha", "exponent", "stripping_depth", "stripping_rate")
    curves: Found = {name: np.full(count, np.nan) for name in names}
    curves |= {name: found["why"].copy() for name in ("why_viscoplastic", "why_stripping")}
    stripped = np.flatnonzero(found["why"] == "")
    if not len(stripped):
        return curves
    number = found["stripping_number"].astype(np.float64)
    early = viscoplastic(passes, rows[stripped], number[stripped])
    _put(curves, stripped, early | {"why_stripping": early["why_viscoplastic"]})
    # What strips on top of a curve that is not identifiable is not either.
    known = early["why_viscoplastic"] == ""
    clear = stripped[known]
    if len(clear):
        own = {name: values[known] for name, values in early.items()}
        _put(curves, clear, stripping_curve(passes, rows[clear], number[clear], own))
    return curves


def _put(curves: Found, tests: NDArray[np.intp], found: Found) -> None:
    for name, values in found.items():
        curves[name][tests] = values


def viscoplastic(passes: Floats, rows: Floats, number: Floats) -> Found:
    """Fit R = Rinf exp(-(alpha/N)^lambda) to the readings up to each test's stripping number."""
    thin = _approach(passes)
    some = np.ascontiguousarray(rows[:, thin])
    first = _viscoplastic_problem(passes[thin], some, number)
    start = _viscoplastic_start(np.log(passes[thin]), first.targets, _up_to(passes[thin], number))
    done = solve(_viscoplastic_problem(passes, rows, number), solve(first, start).parameters)
    held = _up_to(passes, number).sum(axis=1)
    log_depth, scale, exponent = done.parameters.T
    return {
        "depth_ultimate": np.exp(log_depth),
        "alpha": np.exp(scale / exponent),
        "exponent": exponent,
        "why_viscoplastic": reasons(
            len(rows),
            (held < _LEAST_READINGS, "viscoplastic curve not fitted: too few readings before the stripping number"),
            (
                done.on_bound,
                f"viscoplastic curve not identifiable: it ends on a bound (final depth at most {DEPTH_AT_MOST:g} mm)",
            ),
            (~done.settled, "viscoplastic curve did not converge"),
        ),
    }


def _up_to(passes: Floats, number: Floats) -> Floats:
    """Return 1 for the readings up to each test's own pass, 0 after it.

    All readings stay in the sums, with no weight after it: they must not depend on which others are fitted with it.
    """
    return np.asarray(passes <= number[:, None], dtype=np.float64)


def _viscoplastic_problem(passes: Floats, rows: Floats, number: Floats) -> Problem:
    counts, log_passes = _up_to(passes, number), np.log(passes)

    def model(parameters: Floats, tests: NDArray[np.intp]) -> tuple[Floats, list[Floats]]:
        log_depth, scale, exponent = (column[:, None] for column in parameters.T)
        power = np.exp(scale - exponent * log_passes)
        values = np.exp(log_depth - power) * counts[tests]
        by_scale = -values * power
        return values, [values, by_scale, -by_scale * log_passes]

    lower, upper = (np.log(1e-3), -20.0, 1e-3), (np.log(DEPTH_AT_MOST), 60.0, 10.0)
    shape = (len(rows), 3)
    return Problem(model, rows * counts, np.broadcast_to(lower, shape), np.broadcast_to(upper, shape))


def _viscoplastic_start(log_passes: Floats, targets: Floats, counts: Floats) -> Floats:
    """Return the best of a ladder of final depths, where two logarithms make the other two a straight line."""
    deepest = targets.max(axis=1)
    depth = np.maximum(targets, 1e-3)
    best, start = np.full(len(targets), np.inf), np.zeros((len(targets), 3))
    for factor in (1.3, 1.7, 2.5, 4.0, 8.0):
        final = np.minimum(np.maximum(deepest, 1e-2) * factor, DEPTH_AT_MOST)
        ratio = np.log(np.maximum(final[:, None] / depth, 1 + 1e-9))
        weight = counts * (depth * ratio) ** 2 + 1e-12
        scale, slope = _weighted_line(log_passes, np.log(ratio), weight)
        exponent = np.clip(-slope, 1e-2, 5)
        rest = (
            np.exp(np.log(final)[:, None] - np.exp(scale[:, None] - exponent[:, None] * log_passes)) * counts
        ) - targets
        squares = np.einsum("ij,ij->i", rest, rest)
        better = squares < best
        best = np.where(better, squares, best)
        start[better] = np.column_stack([np.log(final), scale, exponent])[better]
    return start


def stripping_curve(passes: Floats, rows: Floats, number: Floats, early: Found) -> Found:
    """Fit the depth beyond the viscoplastic curve, R0 {exp[theta (N - LCSN)] - 1}, after the stripping number."""
    span = passes[-1]
    after = np.maximum(passes - number[:, None], 0) / span
    final, alpha, exponent = (
        early[name].astype(np.float64)[:, None] for name in ("depth_ultimate", "alpha", "exponent")
    )
    creep = final * np.exp(-((np.maximum(alpha, 1e-12) / passes) ** exponent))
    counts = (after > 0).astype(np.float64)
    targets = (rows - creep) * counts

    def model(parameters: Floats, tests: NDArray[np.intp]) -> tuple[Floats, list[Floats]]:
        log_depth, rate = (column[:, None] for column in parameters.T)
        depth, over = np.exp(log_depth), after[tests]
        grown = np.exp(np.minimum(rate * over, 50))
        values = depth * (grown - 1) * counts[tests]
        return values, [values, depth * over * grown]

    lower, upper = (np.log(1e-6), 1e-3), (np.log(1e3), 100.0)
    problem = Problem(model, targets, np.broadcast_to(lower, (len(rows), 2)), np.broadcast_to(upper, (len(rows), 2)))
    last = np.maximum(targets[:, -1], 1e-3)
    start = np.column_stack([np.log(last / (np.exp(3 * after[:, -1]) - 1 + 1e-6)), np.full(len(rows), 3.0)])
    done = solve(problem, start)
    bad = reasons(
        len(rows),
        (done.on_bound | (counts.sum(axis=1) < _LEAST_READINGS), "stripping curve not identifiable"),
        (~done.settled, "stripping curve did not converge"),
    )
    return {
        "stripping_depth": np.exp(done.parameters[:, 0]),
        "stripping_rate": done.parameters[:, 1] / span,
        "why_stripping": bad,
    }
