"""Duplicates, split samples, laboratories, instruments and phases against each other."""

from datetime import date

import polars as pl
import pytest
from scipy import stats

from pipeline.judge.comparisons import (
    biases,
    duplicates,
    independent,
    of_laboratories,
    pairs,
    phases,
    splits,
)
from tests.unit.pipeline.judge.frames import NO_TARGET, contract, limit, samples, values

GMM = {"set_id": "S", "property": "gmm", "single_operator": 0.0051, "multilaboratory": 0.0084, "source": "T 209"}
GMB = {"set_id": "S", "property": "gmb", "single_operator": 0.0124, "multilaboratory": 0.0124, "source": "D2726"}


def halves(differences: list[float], other: str = "K") -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return split samples: one half at L with Gmm 2.5, the other with so much less."""
    made, figures = [], []
    for number, difference in enumerate(differences):
        day = date(2026, 3 + 3 * (number % 2), 1 + number)
        made += [
            {"sample_id": f"A{number}", "taken_on": day},
            {"sample_id": f"B{number}", "taken_on": day, "laboratory_id": other, "split_of": f"A{number}"},
        ]
        figures += [
            {"sample_id": f"A{number}", "property": "gmm", "value": 2.5},
            {"sample_id": f"B{number}", "property": "gmm", "value": 2.5 - difference},
        ]
    return samples(*made), values(*figures)


def test_duplicates_against_the_single_operator_limit() -> None:
    """T 209, single-operator s 0.0051, d2s 0.014 (from memory)."""
    figures = [
        {"level": "specimen", "specimen_no": str(number), "property": "gmm", "value": value}
        for number, value in enumerate((2.500, 2.5144), start=1)
    ]
    (row,) = duplicates(samples({}), values(*figures), contract(precision=[GMM])).to_dicts()
    assert (row["n_1"], row["verdict"]) == (2, "pass")
    assert row["upper"] == pytest.approx(0.014425, abs=1e-6)
    wider = [figures[0], figures[1] | {"value": 2.5145}]
    assert duplicates(samples({}), values(*wider), contract(precision=[GMM]))["verdict"].to_list() == ["fail"]
    assert duplicates(samples({}), values(*figures), contract()).is_empty()


@pytest.mark.parametrize(("difference", "verdict"), [(0.0237, "pass"), (-0.0237, "pass"), (0.0238, "fail")])
def test_halves_against_the_multilaboratory_limit(difference: float, verdict: str) -> None:
    """T 209, multilaboratory s 0.0084, d2s 0.024 (from memory)."""
    (row,) = splits(pairs(*halves([difference])), contract(precision=[GMM])).to_dicts()
    assert (row["first"], row["second"], row["verdict"]) == ("A0", "B0", verdict)


def test_halves_of_one_laboratory_have_the_narrower_limit() -> None:
    (row,) = splits(pairs(*halves([0.02], other="L")), contract(precision=[GMM])).to_dicts()
    assert row["verdict"] == "fail"
    assert row["upper"] == pytest.approx(0.0144, abs=5e-5)


def test_air_voids_without_a_precision_of_their_own_are_propagated() -> None:
    """ASTM D4460 with σ Gmb 0.0124, σ Gmm 0.0040 at 2.40 and 2.50: 0.519 %, d2s 1.47 %."""
    made = samples({"sample_id": "A"}, {"sample_id": "B", "laboratory_id": "K", "split_of": "A"})
    figures = values(
        *(
            {"sample_id": name, "property": prop, "value": value}
            for name in "AB"
            for prop, value in (("gmb", 2.4), ("gmm", 2.5), ("air_voids", 4.0))
        )
    )
    stated = [GMM | {"multilaboratory": 0.0040}, GMB]
    found = splits(pairs(made, figures), contract(precision=stated)).filter(pl.col("property") == "air_voids")
    assert found["upper"][0] == pytest.approx(1.47, abs=0.005)
    assert found["verdict"][0] == "pass"
    bare = splits(pairs(made, figures), contract()).filter(pl.col("property") == "air_voids")
    assert bare.select("verdict", "reason").row(0) == ("not_judged", "the specification set states no precision of it")


DIFFERENCES = [0.011, 0.013, 0.009, 0.012, 0.014, 0.010]


def test_paired_t_between_laboratories_agrees_with_scipy() -> None:
    (row,) = of_laboratories(pairs(*halves(DIFFERENCES)), contract()).to_dicts()
    found = stats.ttest_1samp(DIFFERENCES, 0)
    assert (row["first"], row["second"], row["n_1"]) == ("L", "K", 6)
    assert (row["t"], row["t_p"]) == pytest.approx((found.statistic, found.pvalue), rel=1e-6)
    assert (row["verdict"], row["significance"]) == ("fail", 0.01)
    (fair,) = of_laboratories(pairs(*halves([0.01, -0.012, 0.004, -0.003])), contract()).to_dicts()
    assert fair["verdict"] == "pass"


def test_bias_in_all_by_the_quarter_and_by_the_instrument() -> None:
    used = pl.DataFrame(
        {"sample_id": [f"A{number}" for number in range(6)], "instrument_id": ["L-1"] * 3 + ["L-2"] * 3}
    )
    found = biases(pairs(*halves(DIFFERENCES)), contract(), used)
    whole = found.filter(pl.col("kind") == "bias", pl.col("period").is_null())
    assert whole.select("n_1", "verdict").rows() == [(6, "fail")]
    quarters = found.filter(pl.col("period").is_not_null()).sort("period")
    assert quarters.select("period", "n_1").rows() == [("2026-Q1", 3), ("2026-Q2", 3)]
    instruments = found.filter(pl.col("kind") == "instrument").sort("first")
    assert instruments.select("first", "second", "n_1").rows() == [("L-1", "K", 3), ("L-2", "K", 3)]


def test_independent_samples_of_two_laboratories() -> None:
    one, two = [4.1, 3.9, 4.6, 4.4], [5.9, 5.6, 5.8, 6.1]
    made = [{"sample_id": f"{lab}{number}", "laboratory_id": lab} for lab in "KL" for number in range(4)]
    figures = [
        {"sample_id": f"{lab}{number}", "value": value}
        for lab, results in (("K", one), ("L", two))
        for number, value in enumerate(results)
    ]
    (row,) = independent(samples(*made), values(*figures), contract()).to_dicts()
    found = stats.ttest_ind(one, two)
    assert (row["first"], row["second"], row["verdict"]) == ("K", "L", "fail")
    assert (row["t"], row["t_df"], row["t_p"]) == pytest.approx((found.statistic, 6, found.pvalue), rel=1e-9)
    (few,) = independent(samples(*made[:5]), values(*figures[:5]), contract()).to_dicts()
    assert (few["verdict"], few["reason"]) == ("not_judged", "4 and 1 results: at least two on each side are needed")


def test_phases_against_design_and_against_each_other() -> None:
    made = [{"sample_id": phase, "phase": phase} for phase in ("verification", "startup", "production")]
    results = {"verification": 5.3, "startup": 5.5, "production": 5.9}
    figures = [{"sample_id": phase, "property": "pb", "value": value} for phase, value in results.items()]
    target = NO_TARGET.vstack(
        pl.DataFrame(
            [{"mix_id": "M", "revision": 1, "property": "pb", "point": None, "target": 5.3}], schema=NO_TARGET.schema
        )
    )
    around = limit(property="pb", basis="from_target", lower=-0.5, upper=0.5, phase="production")
    found = phases(samples(*made), values(*figures), contract([around]), target)
    told = {
        (first, second): (round(d, 6), v)
        for first, second, d, v in found.select("first", "second", "difference", "verdict").rows()
    }
    assert told["design", "production"] == (0.6, "fail")
    assert told["startup", "production"] == (0.4, "pass")
    assert told["design", "startup"] == (0.2, "not_judged")
    assert len(told) == 6
