"""Statistics of acceptance against scipy's own procedures, closed forms of their own, and bad input."""

import math
from statistics import NormalDist

import polars as pl
import pytest
from scipy import integrate, stats

from pipeline.judge.statistics.comparison import paired, summary, two_samples
from pipeline.judge.statistics.control import charted
from pipeline.judge.statistics.decision import decided
from pipeline.judge.statistics.outliers import dixon, single_outlier
from pipeline.judge.statistics.pay import composite, pay, published
from pipeline.judge.statistics.quality import index_of, percent_defective, percent_within


def defective(q: float, n: int) -> float:
    return percent_defective(pl.DataFrame({"q": [q], "n": [n]}), pl.col("q"), pl.col("n"))[0]


@pytest.mark.parametrize("q", [-1.1, -0.3, 0.0, 0.06, 0.7, 1.15])
def test_percent_defective_of_three_and_four_has_a_closed_form_of_its_own(q: float) -> None:
    # Colorado CP 71-11, section 2, for n = 3 and 4.
    assert defective(q, 3) == pytest.approx(50 - 100 / math.pi * math.asin(q * math.sqrt(3) / 2), abs=1e-9)
    assert defective(q, 4) == pytest.approx(50 - 100 * q / 3, abs=1e-9)


@pytest.mark.parametrize(("q", "n"), [(0.4, 5), (1.3, 7), (-0.9, 12), (0.2, 60)])
def test_percent_defective_is_the_integral_of_the_density(q: float, n: int) -> None:
    a = n / 2 - 1
    x = 0.5 - q * math.sqrt(n) / (2 * (n - 1))
    area = integrate.quad(lambda each: (each * (1 - each)) ** (a - 1), 0, x, epsabs=1e-12)[0]
    whole = math.gamma(a) ** 2 / math.gamma(2 * a)
    assert defective(q, n) == pytest.approx(100 * area / whole, abs=1e-6)


def test_percent_defective_tends_to_the_normal_tail() -> None:
    assert defective(1.2, 100_000) == pytest.approx(100 * NormalDist().cdf(-1.2), abs=0.01)


def test_index_and_percentage_are_inverse() -> None:
    asked = pl.DataFrame({"pwl": [55.0, 80.0, 99.0], "n": [5, 9, 40]})
    back = percent_defective(asked.with_columns(q=index_of(asked)), pl.col("q"), pl.col("n"))
    assert back.to_list() == pytest.approx([45.0, 20.0, 1.0], abs=1e-9)


LOT = {"n": 5, "mean": 4.0, "s": 0.5, "lower": 2.5, "upper": 5.5, "look_up": "closed_form"}


def lots(*changes: dict[str, object]) -> list[dict[str, object]]:
    floats = dict.fromkeys(("mean", "s", "lower", "upper"), pl.Float64)
    return percent_within(pl.DataFrame([LOT | each for each in changes], schema_overrides=floats)).to_dicts()


def test_equal_results_lie_wholly_within_or_wholly_beyond() -> None:
    within, beyond, at = lots({"s": 0.0}, {"s": 0.0, "mean": 5.6}, {"s": 0.0, "mean": 5.5})
    assert (within["pwl"], beyond["pwl"], at["pwl"]) == (100.0, 0.0, 100.0)
    assert within["q_lower"] is None


def test_too_few_results_give_a_reason_and_no_percentage() -> None:
    few, none, three = lots({"n": 2}, {"lower": None, "upper": None}, {"n": 3})
    assert few["pwl"] is None and few["pwl_reason"] == "2 results: a percentage within limits needs at least 3"
    assert none["pwl"] is None and none["pwl_reason"] == "no limit on either side"
    assert three["pwl"] == 100.0 and three["pwl_reason"] is None


def test_the_ways_of_reading_differ_and_bracket_the_closed_form() -> None:
    given = [{"mean": 5.0, "look_up": word} for word in ("closed_form", "q_hundredths", "next_pwl", "next_pwl_fine")]
    closed, hundredths, next_whole, fine = (row["pwl"] for row in lots(*given))
    assert closed == pytest.approx(hundredths, abs=0.3)
    assert next_whole == fine == math.ceil(closed)


def test_below_the_limit_the_table_gives_the_higher_percentage_too() -> None:
    closed, whole = (row["pwl"] for row in lots({"mean": 6.0}, {"mean": 6.0, "look_up": "next_pwl_fine"}))
    assert closed < 50 and whole == math.ceil(closed)


def test_a_lot_is_the_same_alone_and_among_others() -> None:
    changes = [{"mean": 3.0 + 0.01 * step, "n": 3 + step % 9} for step in range(200)]
    together = lots(*changes)
    assert all(lots(change) == [row] for change, row in zip(changes[::17], together[::17], strict=True))


def test_two_samples_agree_with_scipy() -> None:
    one, two = [4.1, 3.9, 4.6, 4.4, 3.7], [4.9, 5.6, 3.8, 6.1]
    given: dict[str, object] = {"form": "welch"}
    for number, side in enumerate((one, two), start=1):
        row = summary(pl.DataFrame({"key": 1, "value": side}), ["key"]).to_dicts()[0]
        given |= {f"{name}_{number}": row[name] for name in ("n", "mean", "s")}
    equal, unequal = two_samples(pl.DataFrame([given | {"alpha": 0.01}, given | {"alpha": 0.9}])).to_dicts()
    pooled, welch = stats.ttest_ind(one, two), stats.ttest_ind(one, two, equal_var=False)
    assert (equal["equal_variances"], unequal["equal_variances"]) == (True, False)
    assert (equal["t"], equal["t_p"]) == pytest.approx((pooled.statistic, pooled.pvalue), rel=1e-12)
    assert (unequal["t"], unequal["t_df"], unequal["t_p"]) == pytest.approx(
        (welch.statistic, welch.df, welch.pvalue), rel=1e-12
    )
    assert equal["f_p"] == pytest.approx(2 * stats.f.sf(equal["f"], 3, 4), rel=1e-12)


def test_equal_results_on_one_side_give_no_comparison() -> None:
    frame = pl.DataFrame(
        [{"n_1": 4, "mean_1": 4.0, "s_1": 0.0, "n_2": 4, "mean_2": 5.0, "s_2": 0.3, "alpha": 0.01, "form": "welch"}]
    )
    (row,) = two_samples(frame).to_dicts()
    assert row["significant"] is None and row["t"] is None
    assert row["reason"] == "all results of one side are equal: their scatter says nothing"


def test_paired_t_agrees_with_scipy() -> None:
    one, two = [5.1, 4.8, 5.5, 5.0, 4.7], [4.9, 4.8, 5.1, 4.6, 4.6]
    frame = pl.DataFrame({"key": 1, "difference": [a - b for a, b in zip(one, two, strict=True)], "alpha": 0.05})
    (row,) = paired(frame, ["key"]).to_dicts()
    found = stats.ttest_rel(one, two)
    assert (row["t"], row["t_p"], row["t_df"]) == pytest.approx((found.statistic, found.pvalue, found.df), rel=1e-10)


def test_single_pairs_and_equal_differences_give_reasons() -> None:
    frame = pl.DataFrame({"key": ["a", "b", "b"], "difference": [0.1, 0.2, 0.2], "alpha": 0.05})
    one, equal = paired(frame, ["key"]).to_dicts()
    assert (one["significant"], one["reason"]) == (None, "1 pair: at least two are needed")
    assert equal["reason"] == "all differences are equal: their scatter says nothing"


def test_outlier_tests_say_why_they_do_not_apply() -> None:
    frame = pl.DataFrame({"key": ["a", "a", "b", "b", "b"], "value": [1.0, 2.0, 3.0, 3.0, 3.0]})
    for test in (single_outlier(frame, ["key"], 0.05), dixon(frame, ["key"])):
        few, equal = test.to_dicts()
        assert few["flagged"] is None and few["reason"] == "2 results: a test for outliers needs at least 3"
        assert equal["flagged"] is None and equal["reason"] == "all results are equal"


def test_dixon_covers_the_risk_it_states() -> None:
    # 5 % one-sided points of the ratio, by simulation: NJDOT Standard Specifications 2019, 401.03.07.H.
    import numpy as np

    rng = np.random.default_rng(7)
    for n, critical in ((5, 0.642), (10, 0.412)):
        results = np.sort(rng.standard_normal((200_000, n)), axis=1)
        ratio = (results[:, -1] - results[:, -2]) / (results[:, -1] - results[:, 0])
        assert np.quantile(ratio, 0.95) == pytest.approx(critical, abs=0.004)


def test_pay_has_no_gaps_and_no_overlaps() -> None:
    for name, measure in published().select("equation", "measure").unique().rows():
        largest = {"pd": 100, "pwl": 100}.get(measure, 5)
        grid = pl.DataFrame({"x": [largest * step / 400 for step in range(401)], "equation": name})
        assert pay(grid, published())["pay_pct"].null_count() == 0, name


def test_a_measure_that_is_missing_gets_no_pay() -> None:
    frame = pl.DataFrame({"equation": ["florida"], "x": [None]}, schema={"equation": pl.String, "x": pl.Float64})
    assert pay(frame, published())["pay_pct"].to_list() == [None]


def test_composite_is_missing_with_any_of_its_factors() -> None:
    frame = pl.DataFrame({"lot": ["1", "1", "2", "2"], "pay_pct": [100.0, None, 90.0, 100.0], "weight": [0.5] * 4})
    assert composite(frame, ["lot"])["composite_pct"].to_list() == [None, 95.0]
    assert composite(frame, ["lot"], "lowest")["composite_pct"].to_list() == [None, 90.0]


def signals(values: list[float]) -> list[str | None]:
    frame = pl.DataFrame({"key": 1, "order": range(len(values)), "value": values, "target": None})
    return charted(frame.cast({"target": pl.Float64}), "key", "order")["signals"].to_list()


def test_run_rules_name_the_result_that_breaks_them() -> None:
    flat = [4.0, 4.2] * 10
    assert "beyond_3_sigma" in (signals([*flat, 6.5])[-1] or "")
    assert not any(signals(flat))
    shifted = [4.0 + (0.4 if step >= 8 else 0) + 0.05 * (-1) ** step for step in range(16)]
    assert "8_on_one_side" in (signals(shifted)[-1] or "")
    assert signals([4.0] * 12) == [None] * 12


def test_decision_needs_an_uncertainty_where_the_rule_has_a_guard_band() -> None:
    given = {"compared": 7.4, "lower": None, "upper": 8.0, "u": None, "guard_factor": 2.0}
    rules = [given | {"decision_rule": rule} for rule in ("simple", "guard_band")]
    frame = pl.DataFrame(rules, schema_overrides={"lower": pl.Float64, "u": pl.Float64})
    assert decided(frame)["verdict"].to_list() == ["pass", None]


@pytest.mark.parametrize(("y", "u"), [(3.1, 0.3), (2.4, 0.1), (5.8, 1.0)])
def test_probability_of_conformity_is_the_normal_share_between_the_limits(y: float, u: float) -> None:
    frame = pl.DataFrame(
        [{"compared": y, "lower": 2.5, "upper": 5.5, "u": u, "decision_rule": "simple", "guard_factor": 2.0}]
    )
    normal = NormalDist(y, u)
    assert decided(frame)["probability"][0] == pytest.approx(normal.cdf(5.5) - normal.cdf(2.5), abs=1e-12)
