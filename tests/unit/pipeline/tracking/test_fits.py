"""Fits on records whose answer is known, and records that have none."""

import numpy as np
import pytest

from pipeline.tracking import groups, log_model, polynomial, two_lines
from pipeline.tracking.groups import Floats

PASSES = np.arange(20.0, 20001.0, 20.0)


def two(knot: float, creep: float = 1e-4, stripping: float = 8e-4) -> Floats:
    """Return two straight lines that meet at a pass."""
    depths: Floats = 2 + creep * PASSES + (stripping - creep) * np.maximum(PASSES - knot, 0)
    return depths


def test_lines_that_meet_on_the_grid_are_found_exactly() -> None:
    fit = two_lines.fit(PASSES, np.stack([two(12000), two(7300)]), 1000)
    assert fit["why"].tolist() == ["", ""]
    assert fit["creep_slope"] == pytest.approx([1e-4, 1e-4])
    assert fit["stripping_slope"] == pytest.approx([8e-4, 8e-4])
    assert fit["creep_intercept"] == pytest.approx([2.0, 2.0])
    assert fit["stripping_intercept"] == pytest.approx([2 - 7e-4 * 12000, 2 - 7e-4 * 7300])
    assert fit["rms"] == pytest.approx([0, 0], abs=1e-6)
    assert (fit["first_pass"][0], fit["last_pass"][0], fit["readings"][0]) == (1000, 20000, 951)


def test_lines_agree_with_a_search_by_an_ordinary_least_squares() -> None:
    rng = np.random.default_rng(1)
    depths = two(11050) + 0.05 * rng.standard_normal(len(PASSES))
    used = PASSES >= 1000
    best = (np.inf, 0.0)
    for knot in np.arange(1100, 20000, 100.0):
        design = np.column_stack([np.ones(used.sum()), PASSES[used], np.maximum(PASSES[used] - knot, 0)])
        squares = np.linalg.lstsq(design, depths[used], rcond=None)[1][0]
        best = min(best, (squares, knot))
    fit = two_lines.fit(PASSES, depths[None], 1000)
    met = (fit["stripping_intercept"] - fit["creep_intercept"]) / (fit["creep_slope"] - fit["stripping_slope"])
    assert met[0] == pytest.approx(best[1])
    assert fit["rms"][0] == pytest.approx(np.sqrt(best[0] / used.sum()))


def test_one_line_and_a_break_at_the_edge_have_no_two_lines() -> None:
    steep_end = two(19990, stripping=0.1)
    fit = two_lines.fit(PASSES, np.stack([2 + 1e-4 * PASSES, steep_end]), 1000)
    assert fit["why"][0] == "two lines not found: one line fits the record as well"
    assert fit["why"][1].startswith("two lines not identifiable: the best break is at the edge")


def test_the_grid_never_grows_beyond_measure() -> None:
    passes = np.arange(100.0, 200_001.0, 100.0)
    depths = 2 + 1e-5 * passes + 1e-4 * np.maximum(passes - 120_000, 0)
    fit = two_lines.fit(passes, depths[None], 1000)
    assert fit["step"][0] == 800
    assert fit["creep_slope"][0] == pytest.approx(1e-5)


@pytest.mark.parametrize("count", [0, 1, 5, 9])
def test_short_records_have_a_reason(count: int) -> None:
    passes = np.arange(1.0, count + 1) * 1500
    depths = np.ones((2, count))
    for fit in (
        two_lines.fit(passes, depths, 1000),
        polynomial.fit(passes, depths) if count < 8 else two_lines.fit(passes, depths, 1000),
        log_model.fit(passes, depths) if count < 8 else two_lines.fit(passes, depths, 1000),
    ):
        assert "not fitted" in fit["why"][0]


def test_a_polynomial_is_found_again() -> None:
    z = (PASSES - PASSES.mean()) / 10_000
    exact = np.polynomial.Polynomial([4, 2, -0.3, 1.5, 0.1, -0.2, 0.05])
    fit = polynomial.fit(PASSES, exact(z)[None])
    inflections = [root.real for root in exact.deriv(2).roots() if abs(root.imag) < 1e-12 and -1 < root.real <= 1]
    expected = PASSES.mean() + 10_000 * min(inflections)
    assert fit["stripping_number"][0] == pytest.approx(expected, abs=1e-4)
    assert fit["creep_slope"][0] == pytest.approx(exact.deriv()(min(inflections)) / 10_000)
    later = np.linspace(min(inflections), z[-1], 100_001)
    assert fit["stripping_slope"][0] == pytest.approx(exact.deriv()(later).max() / 10_000)
    assert fit["least_slope_after"][0] == pytest.approx(exact.deriv()(later).min() / 10_000)


def test_a_straight_record_and_one_without_inflection_have_no_stripping_number() -> None:
    z = PASSES / 20_000
    fit = polynomial.fit(PASSES, np.stack([2 + z, 2 + 5 * z - 2 * z**2, np.zeros_like(z)]))
    assert fit["why"][0] == fit["why"][2] == "no stripping number: the record is a straight line"
    assert fit["why"][1] == "no stripping number: the polynomial has no inflection inside the record"


def test_passes_that_cannot_carry_a_polynomial() -> None:
    passes = np.array([0, 1e-9, 2e-9, 3e-9, 4e-9, 5e-9, 6e-9, 1.0]) * 1e4
    assert polynomial.fit(passes, np.ones((1, 8)))["why"][0].startswith("polynomial not unique")


def logarithmic(rho: float, beta: float, ultimate: float) -> Floats:
    depths: Floats = rho * np.log(ultimate / PASSES) ** (-1 / beta)
    return depths


def test_the_log_model_is_found_again() -> None:
    given = [(5.0, 1.2, 31000.0), (7.0, 0.9, 45000.0), (3.0, 2.5, 22000.0)]
    fit = log_model.stripping(PASSES, np.stack([logarithmic(*each) for each in given]))
    assert fit["why"].tolist() == [""] * 3
    for place, (rho, beta, ultimate) in enumerate(given):
        assert fit["rho"][place] == pytest.approx(rho, rel=1e-6)
        assert fit["beta"][place] == pytest.approx(beta, rel=1e-6)
        assert fit["passes_ultimate"][place] == pytest.approx(ultimate, rel=1e-6)
        assert fit["stripping_number"][place] == pytest.approx(ultimate * np.exp(-(beta + 1) / beta), rel=1e-6)


def test_creep_without_stripping_has_no_number() -> None:
    fit = log_model.fit(PASSES, np.stack([3 * (PASSES / 10_000) ** 0.2, np.zeros_like(PASSES)]))
    assert fit["why"][0].startswith("no stripping number within the test: not identifiable")
    assert fit["why"][1] == "log model not fitted: no depth above zero"
    assert fit["why_viscoplastic"][0] == fit["why_stripping"][0] == fit["why"][0]
    assert np.isnan(fit["alpha"]).all()


def test_the_viscoplastic_curve_and_its_stripping_are_found_again() -> None:
    number = np.array([9000.0])
    creep = 12 * np.exp(-((30_000 / PASSES) ** 0.25))
    depths = (creep + 0.8 * np.expm1(2e-4 * np.maximum(PASSES - number[0], 0)))[None]
    early = log_model.viscoplastic(PASSES, depths, number)
    assert [early[name][0] for name in ("depth_ultimate", "alpha", "exponent")] == pytest.approx(
        [12, 30_000, 0.25], rel=1e-4
    )
    late = log_model.stripping_curve(PASSES, depths, number, early)
    assert (late["stripping_depth"][0], late["stripping_rate"][0]) == pytest.approx((0.8, 2e-4), rel=1e-4)


FITS = {
    "lines": (lambda passes, depths: two_lines.fit(passes, depths, 1000), two_lines.NAMES),
    "polynomial": (polynomial.fit, polynomial.NAMES),
    "log model": (log_model.fit, log_model.NAMES),
}


@pytest.mark.parametrize("name", FITS)
def test_a_test_has_the_same_figures_alone_and_among_others(name: str) -> None:
    """To the last bit: a history of figures must not tell of changes that are none."""
    fit, names = FITS[name]
    rng = np.random.default_rng(2)
    curves = [logarithmic(rng.uniform(3, 7), rng.uniform(0.9, 2), rng.uniform(22e3, 60e3)) for _ in range(20)]
    curves += [two(9000 + 100 * k) for k in range(3)]
    long = [(PASSES, np.round(curve + 0.02 * rng.standard_normal(len(PASSES)), 2)) for curve in curves]
    records = long + [(passes[:701], depths[:701]) for passes, depths in long]
    order = rng.permutation(len(records))
    counts = np.array([len(records[k][0]) for k in order])
    passes = np.concatenate([records[k][0] for k in order]).astype(np.int64)
    depths = np.concatenate([records[k][1] for k in order])
    found = groups.collected(counts, passes, depths, fit, names)
    for place, k in enumerate(order):
        alone = fit(records[k][0], records[k][1][None].copy())
        assert alone["why"][0] == found["why"][place]
        for figure in names:
            assert np.array_equal(found[figure][place], alone[figure][0], equal_nan=True), figure
