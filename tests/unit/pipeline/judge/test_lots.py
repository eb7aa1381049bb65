"""Lots: published worked lots through the judgement, what counts and what is left out, small lots, own equations."""

import pytest

from pipeline.judge.lots import lots
from tests.unit.pipeline.judge.frames import NO_TARGET, contract, plan, rows, samples, values

CORES = {"material": "core", "property": "relative_compaction"}


def run(
    results: list[float | None], cores: list[dict[str, object]] | None = None, **given: object
) -> dict[str, object]:
    """Judge one lot of cores with these results."""
    agreed = contract(plans=[plan(**(CORES | {"lower": 2.0, "upper": 8.0} | given))], pay=given.pop("pay", None))  # type: ignore[arg-type]
    figures = values(
        *(
            {"level": "specimen", "specimen_no": str(number), "property": "relative_compaction", "value": value}
            | ({"withheld": "no Gmm"} if value is None else {})
            for number, value in enumerate(results, start=1)
        )
    )
    (row,) = lots(samples({"material": "core"}), figures, rows("core", *(cores or [])), agreed, NO_TARGET).to_dicts()
    return row


def test_a_lot_of_five_cores() -> None:
    """NJDOT 2019, 401.03.07.H and Tables ST-5 and 401.03.07-3; results constructed."""
    row = run([5.8, 7.1, 6.4, 8.3, 6.9], look_up="q_hundredths", equation="nj_surface")
    assert (row["n"], row["mean"], row["s"]) == (5, pytest.approx(6.9), pytest.approx(0.93005, abs=5e-6))
    assert row["beyond_pct"] == pytest.approx(11.29)
    assert row["pay_pct"] == pytest.approx(100 + 1 - 0.1 * 11.29)
    assert row["results"] == "A/1=5.8 A/2=7.1 A/3=6.4 A/4=8.3 A/5=6.9"


def test_an_outlier_is_flagged_and_counts_until_it_is_replaced() -> None:
    """NJDOT 2019, p. 167: R = 0.833 > 0.642, one replacement allowed; results constructed."""
    given = {"equation": "nj_surface", "screen_from_pct": 10.0, "outlier_test": "dixon"}
    row = run([6.0, 6.4, 6.2, 6.6, 9.6], **given)
    assert (row["n"], row["outlier"], row["outlier_suspect"]) == (5, True, 9.6)
    assert row["outlier_statistic"] == pytest.approx(0.8333, abs=1e-4)
    again = run([6.0, 6.4, 6.2, 6.6, 9.6, 6.5], [{"sample_id": "A", "specimen_no": "6", "replaces": "5"}], **given)
    assert (again["n"], again["left_out"]) == (5, "A/5=9.6 (replaced by 6)")
    assert again["beyond_pct"] == 0.0


def test_retest_and_removal_thresholds() -> None:
    thresholds = {"retest_from_pct": 30.0, "removal_from_pct": 75.0}
    owed = run([7.8, 8.9, 6.6, 9.4, 8.2], **thresholds)
    assert (owed["retest"], owed["removal"]) == (True, False)
    beyond = run([9.8, 10.9, 8.6, 10.4, 10.2], **thresholds)
    assert (beyond["retest"], beyond["removal"]) == (True, True)
    good = run([5.8, 6.9, 6.6, 6.4, 6.2], **thresholds)
    assert (good["retest"], good["removal"]) == (False, False)


def test_two_results_have_no_percentage_but_may_have_a_rule_of_their_own() -> None:
    """FDOT Table 334-6, p. 177: average of two sublots 1.0 from the target pays 0.95."""
    bare = run([6.0, 7.0], equation="nj_surface")
    assert (bare["within_pct"], bare["pay_pct"]) == (None, None)
    assert bare["reason"] == "2 results, and the plan has no rule for so few"
    small = run([93.0, 94.0], lower=None, upper=None, target=94.5, two_results="florida_small_2")
    assert (small["pay_pct"], small["reason"]) == (pytest.approx(95.0), None)
    one = run([94.0], lower=None, upper=None, target=94.5, one_result="florida_small_1")
    assert one["pay_pct"] == pytest.approx(105.0)


def test_a_target_nobody_states_gives_no_pay() -> None:
    row = run([3.5, 3.0, 4.0, 3.7], lower=2.0, equation="ufgs_voids")
    assert row["pay_pct"] is None
    assert row["reason"] == "no target to deviate from: neither the plan nor the mix design states one"


def test_equal_results_and_missing_ones() -> None:
    row = run([6.0, 6.0, 6.0, None], equation="nj_surface")
    assert (row["n"], row["s"], row["within_pct"], row["q_lower"]) == (3, 0.0, 100.0, None)
    assert row["left_out"] == "A/4=none (no Gmm)"
    none = run([None, None])
    assert (none["n"], none["reason"]) == (0, "no result counts")


def test_a_set_may_have_an_equation_of_its_own() -> None:
    own = {"set_id": "S", "equation": "ours", "measure": "pwl", "form": "pct", "intercept": 50.0, "slope": 0.5}
    pieces = [own | {"piece_no": 1, "source": "test"}]
    assert run([5.8, 6.9, 6.6, 6.4], equation="ours", pay=pieces)["pay_pct"] == pytest.approx(100.0)


def test_halves_and_control_samples_do_not_count() -> None:
    agreed = contract(plans=[plan(lower=2.0, upper=8.0)])
    given = [{"sample_id": name} for name in "ABC"] + [
        {"sample_id": "D", "split_of": "A"},
        {"sample_id": "E", "purpose": "control"},
    ]
    figures = values(*({"sample_id": name, "value": 4.0 + number} for number, name in enumerate("ABCDE")))
    (row,) = lots(samples(*given), figures, rows("core"), agreed, NO_TARGET).to_dicts()
    assert (row["n"], row["left_out"]) == (3, "D=7.0 (half of A); E=8.0 (control sample)")


def test_the_composite_is_of_all_plans_of_the_lot() -> None:
    plans = [
        plan(plan_id="a", lower=2.0, upper=8.0, equation="florida", weight=0.75),
        plan(plan_id="b", target=4.0, equation="ufgs_voids", weight=0.25),
    ]
    figures = values(*({"sample_id": name, "value": 5.0 + number} for number, name in enumerate("ABC")))
    made = samples(*({"sample_id": name} for name in "ABC"))
    weighted = lots(made, figures, rows("core"), contract(plans=plans), NO_TARGET)
    by_plan = dict(weighted.select("plan_id", "pay_pct").iter_rows())
    assert by_plan["b"] == 0.0  # AAD 2.0 is beyond 1.20: reject
    assert weighted["composite_pct"].to_list() == [pytest.approx(0.75 * by_plan["a"])] * 2
    lowest = lots(made, figures, rows("core"), contract(plans=plans, composite="lowest"), NO_TARGET)
    assert lowest["composite_pct"].to_list() == [0.0, 0.0]
