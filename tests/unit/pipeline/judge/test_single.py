"""Single results against limits: published minima, targets, clipping, exclusions, decision rules, missing results."""

from datetime import date

import polars as pl
import pytest

from pipeline.judge.limits import targets
from pipeline.judge.single import judge
from pipeline.judge.subjects import subjects
from tests.unit.pipeline.judge.frames import NO_TARGET, REPORTING, contract, limit, plan, rows, samples, values


def run(
    value: dict[str, object],
    *limits: dict[str, object],
    target: pl.DataFrame = NO_TARGET,
    sample: object = None,
    **rules: object,
) -> list[dict[str, object]]:
    plans = rules.pop("plans", None)
    agreed = contract([limit(**each) for each in limits], plans, **rules)  # type: ignore[arg-type]
    return judge(samples(sample or {}), values(value), agreed, target, REPORTING).sort("limit_id").to_dicts()  # type: ignore[arg-type]


@pytest.mark.parametrize(("vma", "verdict"), [(14.44, "pass"), (13.96, "pass"), (13.94, "fail")])
def test_minimum_vma_of_a_12_5_mm_mix(vma: float, verdict: str) -> None:
    """14.0 % for 12.5 mm: FE Reference Handbook v9.2, Superpave page. 13.96 is reported as 14.0 (ASTM E29)."""
    (row,) = run({"property": "vma", "value": vma}, {"property": "vma", "lower": 14.0, "nmas_mm": 12.5})
    assert row["verdict"] == verdict


@pytest.mark.parametrize(("method", "verdict"), [("absolute", "fail"), ("rounding", "pass")])
def test_both_methods_of_e29(method: str, verdict: str) -> None:
    """ASTM E29-13, section 1.3: 8.04 against a limit of 8.0."""
    (row,) = run({"value": 8.04}, {"upper": 8.0}, rounding=method)
    assert row["verdict"] == verdict


def test_a_limit_may_state_its_own_decimals() -> None:
    (row,) = run({"value": 8.04}, {"upper": 8.0, "decimals": 2})
    assert (row["value"], row["verdict"]) == (8.04, "fail")


@pytest.mark.parametrize(
    "condition",
    [{"nmas_mm": 19.0}, {"phase": "startup"}, {"traffic": "heavy"}, {"layer": "base"}, {"binder_grade": "PG 7"}],
)
def test_a_limit_for_other_samples_does_not_touch_this_one(condition: dict[str, object]) -> None:
    assert run({"value": 99.0}, {"upper": 8.0} | condition) == []


@pytest.mark.parametrize("grade", ["PG 70", "PG 70-22"])
def test_a_binder_grade_is_met_by_its_beginning(grade: str) -> None:
    (row,) = run({"value": 9.0}, {"upper": 8.0, "binder_grade": grade})
    assert row["verdict"] == "fail"


TARGET = pl.DataFrame(
    {"mix_id": ["M"], "revision": [1], "property": ["pb"], "point": [None], "target": [5.3]},
    schema_overrides={"point": pl.Float64},
)


def test_binder_content_around_its_target() -> None:
    """Tolerance of 0.5 % on binder: WSDOT 5-04.3(9) as printed in a City of Everett contract (2024), p. 68."""
    around = {"property": "pb", "basis": "from_target", "lower": -0.5, "upper": 0.5}
    (out,) = run({"property": "pb", "value": 5.9}, around, target=TARGET)
    assert (out["lower"], out["upper"], out["target"], out["verdict"]) == (4.8, 5.8, 5.3, "fail")
    (at,) = run({"property": "pb", "value": 5.8}, around, target=TARGET)
    assert (at["verdict"], at["margin"]) == ("pass", pytest.approx(0))
    (none,) = run({"property": "pb", "value": 5.9}, around, target=TARGET, sample={"revision": 2})
    assert (none["verdict"], none["reason"]) == ("not_judged", "no target for pb in mix design M revision 2")
    (unknown,) = run({"property": "pb", "value": 5.9}, around, target=TARGET, sample={"revision": None})
    assert unknown["reason"] == "no target for pb in mix design M (not in the register)"


def test_a_tolerance_band_stays_inside_the_control_points() -> None:
    """WSDOT 5-04.3(9), step b; control points of a 12.5 mm mix at 2.36 mm, 28-58 %: AASHTO MP-2."""
    target = TARGET.with_columns(property=pl.lit("passing"), point=pl.lit(2.36), target=pl.lit(32.0))
    band = {"property": "passing", "point": 2.36, "basis": "from_target", "lower": -6.0, "upper": 6.0}
    (row,) = run(
        {"property": "passing", "point": 2.36, "value": 27.0},
        band | {"clip_lower": 28.0, "clip_upper": 58.0},
        target=target,
    )
    assert (row["lower"], row["upper"], row["verdict"]) == (28.0, 38.0, "fail")


def test_a_required_result_that_is_missing_is_listed_with_its_reason() -> None:
    asked = {"property": "vma", "lower": 14.0, "required": True}
    (told,) = run({"property": "vma", "withheld": "Gsb missing in mix design M revision 1"}, asked)
    assert (told["verdict"], told["reason"]) == ("not_judged", "Gsb missing in mix design M revision 1")
    (bare,) = run({"property": "pb", "value": 5.0}, asked)
    assert bare["reason"] == "no result: the test is missing"
    assert run({"property": "pb", "value": 5.0}, asked | {"required": False}) == []


def test_an_excluding_flag_keeps_a_result_from_being_judged_and_shows_it() -> None:
    value = {"value": 10.0, "flags": "other water_absorbed_above_limit"}
    (excluded,) = run(value, {"upper": 8.0, "excluding_flags": "water_absorbed_above_limit"})
    assert (excluded["verdict"], excluded["value"], excluded["margin"]) == ("not_judged", 10.0, None)
    (judged,) = run(value, {"upper": 8.0, "excluding_flags": "assumed"})
    assert judged["verdict"] == "fail"


def test_a_figure_that_stands_in_for_a_test_is_never_a_result() -> None:
    (row,) = run({"property": "vma", "value": 15.0, "flags": "assumed"}, {"property": "vma", "lower": 14.0})
    assert (row["verdict"], row["reason"]) == (
        "not_judged",
        "no result: the figure stands in for a test that was not made",
    )


@pytest.mark.parametrize(
    ("value", "verdict", "probability"),
    [(7.4, "pass", 0.9987), (7.8, "conditional_pass", 0.841), (8.1, "conditional_fail", 0.309), (8.5, "fail", 0.006)],
)
def test_zones_of_a_guard_band(value: float, verdict: str, probability: float) -> None:
    """ILAC-G8:09/2019, p. 9, non-binary statement; results constructed: limit 8.0, u 0.2, w = 2u."""
    (row,) = run({"value": value, "uncertainty": 0.2}, {"upper": 8.0}, decision_rule="conditional")
    assert (row["verdict"], row["guard"]) == (verdict, 0.4)
    assert row["probability"] == pytest.approx(probability, abs=0.0005)


def test_no_guard_band_on_top_of_a_plan_over_lots() -> None:
    planned = [plan(lower=2.0, upper=8.0)]
    (row,) = run({"value": 7.8, "uncertainty": 0.2}, {"upper": 8.0}, decision_rule="guard_band", plans=planned)
    assert (row["decision_rule"], row["guard"], row["verdict"]) == ("simple", 0.0, "pass")
    (early,) = run(
        {"value": 7.8, "uncertainty": 0.2},
        {"upper": 8.0},
        decision_rule="guard_band",
        plans=planned,
        sample={"phase": "startup"},
    )
    assert (early["decision_rule"], early["verdict"]) == ("guard_band", "fail")


def test_a_guard_band_without_uncertainty_gives_no_verdict() -> None:
    (row,) = run({"value": 7.8}, {"upper": 8.0}, decision_rule="guard_band")
    assert row["reason"] == "the rule guard_band needs the uncertainty of the result, and none is known"


def test_limits_at_fault_give_no_verdict_and_the_others_do() -> None:
    judged = run({"value": 7.0}, {"upper": 8.0}, {"limit_id": "strict", "lower": 8.5, "upper": 9.0})
    assert [row["verdict"] for row in judged] == ["not_judged"] * 2
    assert "contradicts limit 'voids'" in str(judged[0]["reason"])


def test_targets_come_from_design_and_gradation() -> None:
    design = pl.DataFrame({"mix_id": ["M"], "revision": [1], "pb_pct": [5.3], "vma_pct": [None]})
    gradation = pl.DataFrame({"mix_id": ["M"], "revision": [1], "sieve_mm": [4.75], "passing_pct": [62.0]})
    found = targets(design.cast({"vma_pct": pl.Float64}), gradation, {"pb": "pb_pct", "vma": "vma_pct", "gse": "gse"})
    assert found.select("property", "point", "target").sort("property").rows() == [
        ("passing", 4.75, 62.0),
        ("pb", None, 5.3),
    ]


def test_the_set_of_a_sample_is_the_nearest_assignment_of_its_day() -> None:
    sample = rows(
        "sample",
        *(
            {"sample_id": name, "project_id": "P", "mix_id": mix, "material": "mix", "phase": "production"}
            | {"laboratory_id": "L", "taken_on": day}
            for name, mix, day in (
                ("before", "M", date(2025, 12, 31)),
                ("mix", "M", date(2026, 3, 1)),
                ("other", "N", date(2026, 3, 1)),
                ("after", "M", date(2026, 7, 1)),
            )
        ),
    )
    assigned = rows(
        "specification_assignment",
        {"project_id": "P", "set_id": "ALL", "valid_from": date(2026, 1, 1)},
        {
            "project_id": "P",
            "mix_id": "M",
            "set_id": "OWN",
            "valid_from": date(2026, 1, 1),
            "valid_until": date(2026, 6, 30),
        },
    )
    project = rows("project", {"project_id": "P", "project_name": "P", "laboratory_id": "L", "set_id": "NAMED"})
    found = subjects(sample, rows("mix_design"), project, assigned)
    assert dict(found.select("sample_id", "set_id").iter_rows()) == {
        "before": "NAMED",
        "mix": "OWN",
        "other": "ALL",
        "after": "ALL",
    }
