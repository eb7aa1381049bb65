"""The law of propagation against the `uncertainties` library, Monte Carlo trials, and hand calculation."""

import math

import numpy as np
import pytest
import uncertainties

from pipeline.compute import compute
from pipeline.solving import UnknownNameError
from pipeline.uncertainty.propagation import Inputs, covariance, propagate

MASSES = {"dry": 1205.6, "ssd": 1208.2, "submerged": 700.4}
DOUBTS = {"dry": 0.0833, "ssd": 0.5069, "submerged": 0.0833}


def gmb(values):
    return values["dry"] / (values["ssd"] - values["submerged"])


def test_against_the_uncertainties_library() -> None:
    witness = gmb({name: uncertainties.ufloat(value, DOUBTS[name]) for name, value in MASSES.items()})
    found = propagate(gmb, Inputs(MASSES, DOUBTS))
    assert found.value == witness.nominal_value
    assert found.standard == pytest.approx(witness.std_dev, rel=1e-6)


@pytest.mark.parametrize("r", [-0.5, 0.9])
def test_correlated_inputs_against_the_uncertainties_library(r: float) -> None:
    matrix = np.array([[1.0, 0, 0], [0, 1.0, r], [0, r, 1.0]])
    known = list(zip(MASSES.values(), DOUBTS.values(), strict=True))
    witness = gmb(dict(zip(MASSES, uncertainties.correlated_values_norm(known, matrix), strict=True)))
    found = propagate(gmb, Inputs(MASSES, DOUBTS, {("submerged", "ssd"): r}))
    assert found.standard == pytest.approx(witness.std_dev, rel=1e-6)


def test_against_monte_carlo_trials() -> None:
    # JCGM 101: the trials' standard deviation; 400,000 of them leave about 0.1 %.
    random = np.random.default_rng(4)
    draws = {name: random.normal(value, DOUBTS[name], 400_000) for name, value in MASSES.items()}
    found = propagate(gmb, Inputs(MASSES, DOUBTS))
    assert found.standard == pytest.approx(gmb(draws).std(ddof=1), rel=0.005)


def test_second_order_against_monte_carlo_trials() -> None:
    # A product about zero has no first-order term at all.
    values, doubts = {"x": 0.0, "y": 0.0}, {"x": 0.3, "y": 0.2}
    random = np.random.default_rng(5)
    trials = random.normal(0, 0.3, 400_000) * random.normal(0, 0.2, 400_000)
    first = propagate(lambda at: at["x"] * at["y"], Inputs(values, doubts))
    both = propagate(lambda at: at["x"] * at["y"], Inputs(values, doubts), second_order=True)
    assert first.standard == 0.0
    assert both.standard == pytest.approx(trials.std(ddof=1), rel=0.01)


def test_a_square_has_its_second_order_term() -> None:
    # x² about zero: variance 2 u⁴ for a normal x.
    found = propagate(lambda at: at["x"] ** 2, Inputs({"x": 0.0}, {"x": 0.5}), second_order=True)
    assert found.standard == pytest.approx(math.sqrt(2) * 0.25, rel=1e-6)


def test_degrees_of_freedom_and_covariance() -> None:
    found = propagate(lambda at: at["x"] + at["y"], Inputs({"x": 1, "y": 1}, {"x": 3, "y": 4}, {}, {"x": 10, "y": 20}))
    assert found.degrees_of_freedom == pytest.approx(25**2 / (81 / 10 + 256 / 20))
    assert propagate(gmb, Inputs(MASSES, DOUBTS)).degrees_of_freedom == math.inf
    less = propagate(lambda at: at["x"] - at["y"], Inputs({"x": 1, "y": 1}, {"x": 3, "y": 4}))
    assert covariance(found, less) == pytest.approx(9 - 16)


@pytest.mark.parametrize(
    ("doubts", "correlations", "told"),
    [
        ({"z": 1.0}, {}, "'z'"),
        ({"dry": -1.0}, {}, "dry"),
        ({"dry": 1.0}, {("dry", "ssd"): 1.5}, "1.5"),
    ],
)
def test_what_cannot_be_is_refused(doubts, correlations, told) -> None:
    with pytest.raises(ValueError, match=told):
        propagate(gmb, Inputs(MASSES, doubts, correlations))


def test_by_hand_a_shared_input_counts_once() -> None:
    """VFA rests on Gmb twice, through VMA and air voids; the library keeps the correlation too."""
    given = {"gmb": 2.442, "gmm": 2.535, "ps": 94.7, "gsb": 2.703}
    u = uncertainties.ufloat(2.442, 0.0024)
    vma, voids = 100 - u * 94.7 / 2.703, 100 * (1 - u / 2.535)
    done = compute("vfa", given, uncertainties={"gmb": 0.0024})
    assert done.uncertainty == pytest.approx((100 * (vma - voids) / vma).std_dev, rel=1e-6)
    assert [each.input for each in done.budget] == ["gmb"]


def test_by_hand_an_uncertainty_needs_its_value() -> None:
    with pytest.raises(UnknownNameError, match="an uncertainty of 'gnb' is given, but no value: add gnb=…"):
        compute("air_voids", gmb=2.4, gmm=2.5, uncertainties={"gnb": 0.1})
