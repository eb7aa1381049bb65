"""Specification sets that contradict themselves or name what does not exist."""

import pytest

from tests.unit.pipeline.judge.frames import contract, limit, plan


def found(*limits: dict[str, object], plans: list[dict[str, object]] | None = None) -> list[tuple[str, str]]:
    return contract([limit(**each) for each in limits], plans).faults.select("subject", "fault").rows()


def test_a_sound_set_has_no_fault() -> None:
    assert found({"lower": 2.0, "upper": 5.0}) == []


def test_limits_told_apart_by_a_condition_do_not_overlap() -> None:
    assert (
        found({"limit_id": "a", "upper": 5.0, "nmas_mm": 9.5}, {"limit_id": "b", "upper": 6.0, "nmas_mm": 12.5}) == []
    )
    assert found({"limit_id": "a", "upper": 5.0}, {"limit_id": "b", "lower": 2.0}) == []
    assert found({"limit_id": "a", "upper": 5.0}, {"limit_id": "b", "upper": 5.5, "use": "action"}) == []


@pytest.mark.parametrize("second", [{"nmas_mm": 9.5}, {"phase": "startup"}, {"binder_grade": "PG 70"}])
def test_a_general_and_a_special_limit_overlap(second: dict[str, object]) -> None:
    told = found({"limit_id": "a", "upper": 5.0}, {"limit_id": "b", "upper": 6.0} | second)
    assert [subject for subject, _ in told] == ["a", "b"]
    assert told[0][1].startswith("overlaps limit 'b': both hold for the same samples")


def test_limits_that_leave_nothing_contradict() -> None:
    told = found({"limit_id": "a", "upper": 5.0}, {"limit_id": "b", "lower": 6.0})
    assert [fault.split(":")[0] for _, fault in told] == ["contradicts limit 'b'", "contradicts limit 'a'"]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"property": "voids", "upper": 5.0}, "unknown property 'voids'; `mixledger methods` lists them"),
        (
            {"unit": "mm", "upper": 5.0},
            "unit 'mm' of air_voids is not the one its results are in, '%': convert the limit",
        ),
        ({"lower": 5.0, "upper": 4.0}, "lower 5.0 is above upper 4.0: nothing can pass"),
        ({}, "neither 'lower' nor 'upper' is given"),
        ({"property": "passing", "upper": 5.0}, "passing needs 'at': the sieve, gyration or pass it is limited at"),
        ({"point": 4.75, "upper": 5.0}, "air_voids is one figure per sample: 'at' has no meaning"),
        ({"upper": 5.0, "excluding_flags": "nonsense"}, "unknown flag 'nonsense' in 'excluding'"),
        ({"upper": 5.0, "clip_lower": 4.0, "clip_upper": 3.0}, "control points 4.0 and 3.0 are crossed"),
    ],
)
def test_each_fault_is_told(given: dict[str, object], said: str) -> None:
    assert found(given) == [("voids", said)]


def test_plans_need_an_equation_that_exists_and_limits_for_it() -> None:
    assert found(plans=[plan(lower=2.0, equation="nowhere")]) == [("voids", "unknown pay equation 'nowhere'")]
    assert found(plans=[plan(target=4.0, equation="florida")]) == [("voids", "pay by 'florida' needs limits")]
    assert found(plans=[plan(target=4.0, equation="ufgs_voids")]) == []
