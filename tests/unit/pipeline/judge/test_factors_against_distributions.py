"""Critical values that were written down from memory, held against the distributions they come from."""

import numpy as np
import pytest
from scipy import stats

from pipeline.judge.comparisons import RANGES
from pipeline.judge.statistics.outliers import DIXON


@pytest.mark.parametrize(("n", "factor"), sorted(RANGES.items()))
def test_ranges_are_the_points_of_the_studentized_range(n: int, factor: float) -> None:
    """Source: scipy.stats.studentized_range, 95 %, sigma known; ASTM C670 rounds to one decimal."""
    point = float(stats.studentized_range.ppf(0.95, n, np.inf))
    # For two results C670 takes 2√2 = 2.83 in place of 2.77.
    assert round(factor, 1) == (2.8 if n == 2 else round(point, 1))


@pytest.mark.parametrize(("n", "critical"), sorted(DIXON.items()))
def test_dixon_s_points_leave_one_sample_in_twenty_at_one_end(n: int, critical: float) -> None:
    """Source: the ratio of ordered normal samples, drawn with numpy; 5 % at one named end."""
    drawn = np.sort(np.random.default_rng(670).standard_normal((400_000, n)), axis=1)
    ratio = (drawn[:, -1] - drawn[:, -2]) / (drawn[:, -1] - drawn[:, 0])
    share = float(np.mean(ratio > critical))
    # Five standard errors of a share of 5 %, and what three decimals of the critical value leave open.
    assert share == pytest.approx(0.05, abs=5 * (0.05 * 0.95 / 400_000) ** 0.5 + 0.0005)
