"""Bounded nonlinear least squares for many tests at once (Levenberg-Marquardt, three parameters or fewer)."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.tracking.groups import Floats

Bools = NDArray[np.bool_]
#: (parameters (tests, n), rows of the tests) -> values (tests, readings) and their derivatives by each parameter.
Model = Callable[[Floats, NDArray[np.intp]], tuple[Floats, list[Floats]]]

#: Readings worked on at once: the arrays of one block stay in the processor's cache.
BLOCK = 60_000
_STEPS = 200
_SETTLED = 1e-10


@dataclass(frozen=True)
class Problem:
    """What is fitted.

    Attributes
    ----------
    model
        Values and derivatives; readings that do not count must be zero in both.
    targets
        Readings, shape (tests, readings), zero where they do not count.
    lower, upper
        Bounds of the parameters, shape (tests, n).
    """

    model: Model
    targets: Floats
    lower: Floats
    upper: Floats


@dataclass(frozen=True)
class Solution:
    """Parameters (tests, n), sums of squared residuals, whether each test settled, and whether it rests on a bound."""

    parameters: Floats
    squares: Floats
    settled: Bools
    on_bound: Bools


def solve(problem: Problem, start: Floats) -> Solution:
    """Minimise the sum of squares of every test from its own start.

    A step that would make a test worse is damped and tried again; a parameter held by a bound leaves the step of
    the others alone. A test has settled when its step changes no parameter by more than 1e-10 of its size.
    """
    parameters = np.clip(start, problem.lower, problem.upper)
    tests = np.arange(len(parameters))
    squares, gradient, normal = _normal(problem, parameters, tests)
    damping = np.full(len(tests), 1e-3)
    settled = np.zeros(len(tests), dtype=bool)
    for _ in range(_STEPS):
        open_tests = np.flatnonzero(~settled)
        if not len(open_tests):
            break
        step = _step(gradient, normal, damping, _held(problem, parameters, gradient), open_tests)
        old = parameters[open_tests]
        tried = np.clip(old + step, problem.lower[open_tests], problem.upper[open_tests])
        moved = np.abs(tried - old).max(axis=1) > _SETTLED * (1 + np.abs(old).max(axis=1))
        found = _normal(problem, tried, open_tests)
        better = found[0] <= squares[open_tests] * (1 + 1e-14)
        taken = open_tests[better]
        parameters[taken], squares[taken] = tried[better], found[0][better]
        gradient[taken], normal[taken] = found[1][better], found[2][better]
        damping[open_tests] = np.where(better, damping[open_tests] / 10, damping[open_tests] * 10)
        settled[open_tests] = ~moved
    return Solution(parameters, squares, settled, _on_bound(problem, parameters))


def _normal(problem: Problem, parameters: Floats, tests: NDArray[np.intp]) -> tuple[Floats, Floats, Floats]:
    """Return sum of squares, gradient and normal matrix of each of these tests."""
    values, slopes = problem.model(parameters, tests)
    rest = values - problem.targets[tests]
    count = len(slopes)
    normal = np.empty((len(tests), count, count))
    for row in range(count):
        for column in range(row, count):
            normal[:, row, column] = normal[:, column, row] = np.einsum("ij,ij->i", slopes[row], slopes[column])
    gradient = np.stack([np.einsum("ij,ij->i", slope, rest) for slope in slopes], axis=1)
    return np.einsum("ij,ij->i", rest, rest), gradient, normal


def _held(problem: Problem, parameters: Floats, gradient: Floats) -> Bools:
    """Tell which parameters stand at a bound and would leave it outward."""
    low = (parameters <= problem.lower) & (gradient > 0)
    high = (parameters >= problem.upper) & (gradient < 0)
    return low | high


def _step(gradient: Floats, normal: Floats, damping: Floats, held: Bools, tests: NDArray[np.intp]) -> Floats:
    matrix, free = normal[tests].copy(), ~held[tests]
    diagonal = np.einsum("ijj->ij", matrix)
    diagonal += damping[tests, None] * diagonal + 1e-30
    matrix *= free[:, :, None] & free[:, None, :]
    diagonal += held[tests]
    step = np.linalg.solve(matrix, (gradient[tests] * free)[:, :, None])[:, :, 0]
    return np.asarray(-step, dtype=np.float64)


def _on_bound(problem: Problem, parameters: Floats) -> Bools:
    near = 1e-9 * (1 + np.abs(parameters))
    on = (parameters - problem.lower < near) | (problem.upper - parameters < near)
    return np.asarray(on.any(axis=1))
