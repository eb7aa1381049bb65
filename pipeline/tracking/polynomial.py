"""Sixth-degree polynomial of rut depth over passes: stripping number, slopes, tangents."""

import numpy as np
from numpy.typing import NDArray

from pipeline.tracking.groups import Floats, Found, products, reasons, refused

DEGREE = 6
NAMES = (
    "stripping_number",
    "depth_measured",
    "creep_slope",
    "creep_intercept",
    "stripping_slope",
    "stripping_intercept",
    "steepest_pass",
    "least_slope_after",
    "first_pass",
    "last_pass",
    "readings",
    "rms",
)
#: Inflections before this pass belong to the first settling of the specimen, by the convention of the open data.
IGNORED_BELOW = 200.0
_CONDITION = 1e8


def fit(passes: Floats, depths: Floats) -> Found:
    """Fit the polynomial to all readings of tests with the same passes, over passes scaled to [-1, 1].

    The stripping number is the first root of the second derivative inside the record; the stripping slope is the
    greatest slope after it.

    Parameters
    ----------
    passes, depths
        Shapes (readings,) and (tests, readings); mm.

    Returns
    -------
    dict
        `NAMES`: passes; slopes in mm/pass; intercepts of both tangents, measured depth at the stripping number and
        root mean square of the residuals in mm.
    """
    if len(passes) <= DEGREE + 1:
        why = f"polynomial not fitted: {len(passes)} readings, more than {DEGREE + 1} are needed"
        return refused(len(depths), NAMES, why)
    middle, half = (passes[0] + passes[-1]) / 2, (passes[-1] - passes[0]) / 2
    design = np.vander((passes - middle) / half, DEGREE + 1, increasing=True)
    basis, triangle = np.linalg.qr(design)
    if np.linalg.cond(triangle) > _CONDITION:
        return refused(len(depths), NAMES, "polynomial not unique: the passes lie too unevenly for its degree")
    along = products(depths, np.ascontiguousarray(basis.T))
    coefficients = products(along, np.linalg.inv(triangle))
    size = np.einsum("ij,ij->i", depths, depths)
    rest = size - np.einsum("ij,ij->i", along, along)
    found = _turning(coefficients, (IGNORED_BELOW - middle) / half)
    ends = {"first_pass": passes[0], "last_pass": passes[-1], "readings": float(len(passes))}
    return {
        **_tangents(coefficients, found, middle, half),
        "depth_measured": _measured(passes, depths, middle + half * np.nan_to_num(found["turning"])),
        **{name: np.full(len(depths), value) for name, value in ends.items()},
        "rms": np.sqrt(np.maximum(rest, 0) / len(passes)),
        "why": _why(coefficients, size / len(passes), found["turning"]),
    }


def _tangents(coefficients: Floats, found: dict[str, Floats], middle: float, half: float) -> Found:
    """Return stripping number, slopes and tangents in passes instead of scaled ones."""
    turning = np.nan_to_num(found["turning"])
    number, steepest = middle + half * turning, middle + half * found["steepest"]
    creep, stripping = found["creep"] / half, found["stripping"] / half
    return {
        "stripping_number": np.where(np.isnan(found["turning"]), np.nan, number),
        "creep_slope": creep,
        "creep_intercept": _value(coefficients, turning) - creep * number,
        "stripping_slope": stripping,
        "stripping_intercept": _value(coefficients, found["steepest"]) - stripping * steepest,
        "steepest_pass": steepest,
        "least_slope_after": found["least"] / half,
    }


def _turning(coefficients: Floats, first: float) -> dict[str, Floats]:
    """Return, in scaled passes, the first inflection and the slopes there and beyond; NaN where there is none."""
    slope = coefficients[:, 1:] * np.arange(1, DEGREE + 1)
    bend = slope[:, 1:] * np.arange(1, DEGREE)
    roots = _real_roots(bend)
    inside = np.where((roots >= first) & (roots <= 1), roots, np.inf)
    turning = inside.min(axis=1)
    none = np.isinf(turning)
    turning = np.where(none, 1.0, turning)
    # The slope is extreme where the polynomial bends no more, or at the end of the record.
    places = np.column_stack([np.where(inside > turning[:, None], np.minimum(inside, 1.0), 1.0), np.ones(len(roots))])
    slopes = _value(slope, places)
    steepest = np.take_along_axis(places, slopes.argmax(axis=1)[:, None], axis=1)[:, 0]
    creep = _value(slope, turning)
    gaps = {
        "turning": turning,
        "creep": creep,
        "stripping": slopes.max(axis=1),
        "steepest": steepest,
        "least": np.minimum(slopes.min(axis=1), creep),
    }
    return gaps | {"turning": np.where(none, np.nan, turning)}


def _real_roots(polynomials: Floats) -> Floats:
    """Return the real roots of each polynomial (coefficients rising), NaN in place of the others."""
    lead = polynomials[:, -1:]
    least = 1e-12 * np.abs(polynomials).max(axis=1, keepdims=True) + np.finfo(float).tiny
    lead = np.where(np.abs(lead) < least, least, lead)
    degree = polynomials.shape[1] - 1
    companion = np.zeros((len(polynomials), degree, degree))
    companion[:, np.arange(1, degree), np.arange(degree - 1)] = 1
    companion[:, :, -1] = -polynomials[:, :-1] / lead
    roots = np.linalg.eigvals(companion)
    return np.where(roots.imag == 0, roots.real, np.nan)


def _value(coefficients: Floats, at: Floats) -> Floats:
    """Return each polynomial at its own place or places, by Horner's scheme."""
    shape = (slice(None), *(None,) * (at.ndim - 1))
    value = np.zeros_like(at)
    for column in coefficients.T[::-1]:
        value = value * at + column[shape]
    return value


def _measured(passes: Floats, depths: Floats, at: Floats) -> Floats:
    """Return the recorded depth of each test at its own pass, linear between readings."""
    after = np.clip(np.searchsorted(passes, at), 1, len(passes) - 1)
    share = (at - passes[after - 1]) / (passes[after] - passes[after - 1])
    rows = np.arange(len(depths))
    before, then = depths[rows, after - 1], depths[rows, after]
    measured: Floats = before + (then - before) * share
    return measured


def _why(coefficients: Floats, mean_square: Floats, turning: Floats) -> NDArray[np.object_]:
    # A straight record has no curvature but that of rounding, whose roots mean nothing.
    straight = np.abs(coefficients[:, 2:]).max(axis=1) <= 1e-9 * np.sqrt(mean_square)
    return reasons(
        len(coefficients),
        (straight, "no stripping number: the record is a straight line"),
        (np.isnan(turning), "no stripping number: the polynomial has no inflection inside the record"),
    )
