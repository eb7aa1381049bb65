"""Long series of many tests -> matrices of the tests that share their passes."""

import hashlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
#: One figure per test (NaN where there is none), by name; the reasons stand under `why` (empty where there is none).
Found = dict[str, NDArray[np.generic]]


@dataclass(frozen=True)
class Group:
    """Tests recorded at the same passes.

    Attributes
    ----------
    tests
        Their places among all tests.
    passes
        The recorded passes, rising, shape (readings,).
    depths
        Rut depths in mm, shape (tests, readings).
    """

    tests: NDArray[np.intp]
    passes: Floats
    depths: Floats


def groups(counts: NDArray[np.int64], passes: NDArray[np.int64], depths: Floats) -> Iterator[Group]:
    """Yield the groups of tests with equal passes.

    Parameters
    ----------
    counts
        Readings of each test, shape (tests,).
    passes, depths
        Readings of all tests, one test after the other, passes rising within a test; shape (sum of counts,).
    """
    starts = np.cumsum(counts) - counts
    members: dict[bytes, list[int]] = {}
    for test, (start, count) in enumerate(zip(starts.tolist(), counts.tolist(), strict=True)):
        # A fingerprint of the passes of a whole test, so that equal records meet whatever their order.
        key = hashlib.blake2b(passes[start : start + count].tobytes(), digest_size=16).digest()
        members.setdefault(key, []).append(test)
    for found in members.values():
        tests = np.array(found, dtype=np.intp)
        count = int(counts[tests[0]])
        first = starts[tests[0]]
        rows = _rows(depths, starts[tests], count)
        yield Group(tests, passes[first : first + count].astype(np.float64), rows)


def _rows(depths: Floats, starts: NDArray[np.int64], count: int) -> Floats:
    """Return the depths of each test as a row; a view where the tests lie one after the other."""
    if count and np.all(np.diff(starts) == count):
        return depths[starts[0] : starts[-1] + count].reshape(len(starts), count)
    gathered: Floats = depths[starts[:, None] + np.arange(count)]
    return gathered


def collected(
    counts: NDArray[np.int64],
    passes: NDArray[np.int64],
    depths: Floats,
    fit: Callable[[Floats, Floats], Found],
    names: tuple[str, ...],
    told: Iterable[str] = ("why",),
) -> Found:
    """Fit every group and put the figures back in the order of the tests.

    Parameters
    ----------
    counts, passes, depths
        As for `groups`.
    fit
        (passes, depths) of a group -> figures by name, and reasons.
    names, told
        The figures it gives, and the names of its reasons.
    """
    whole: Found = {name: np.full(len(counts), np.nan) for name in names}
    whole |= {name: np.full(len(counts), "", dtype=object) for name in told}
    for group in groups(counts, passes, depths):
        found = fit(group.passes, group.depths)
        for name in whole:
            whole[name][group.tests] = found[name]
    return whole


def refused(tests: int, names: tuple[str, ...], why: str) -> Found:
    """Return no figure for any test, with one reason for all."""
    found: Found = {name: np.full(tests, np.nan) for name in names}
    found["why"] = np.full(tests, why, dtype=object)
    return found


def reasons(tests: int, *checked: tuple[NDArray[np.bool_], str]) -> NDArray[np.object_]:
    """Return the first reason that holds for each test, empty where none does."""
    why = np.full(tests, "", dtype=object)
    for holds, sentence in reversed(checked):
        why[holds] = sentence
    return why


def products(rows: Floats, vectors: Floats) -> Floats:
    """Return the inner product of every row with every vector, shape (rows, vectors).

    Not by the matrix routine, whose last digit depends on how many rows are multiplied at once: a test must have
    the same figures alone and among others.
    """
    return np.asarray(np.einsum("ij,kj->ik", rows, vectors), dtype=np.float64)
