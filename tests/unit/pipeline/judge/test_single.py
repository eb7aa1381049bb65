"""Single results against limits: published minima, targets, exclusions, missing results."""

from datetime import date

import polars as pl
import pytest

from pipeline.judge.limits import targets
from pipeline.judge.single import judge
from pipeline.reporting import as_reported

SAMPLES = pl.DataFrame(
    {
        "sample_id": ["A", "B"],
        "set_id": ["S", "S"],
        "material": ["mix", "mix"],
        "phase": ["production", "startup"],
        "nmas_mm": [12.5, 19.0],
        "taken_on": [date(2026, 5, 7)] * 2,
        "mix_id": ["M"] * 2,
        "revision": [1, 2],
    }
)
LIMIT = {
    "set_id": "S",
    "limit_id": "vma-12",
    "property": "vma",
    "point": None,
    "phase": None,
    "material": "mix",
    "nmas_mm": None,
    "basis": "absolute",
    "lower": None,
    "upper": None,
    "required": False,
    "excluding_flags": None,
    "valid_from": None,
}
LIMIT_TYPES = {
    "point": pl.Float64,
    "phase": pl.String,
    "nmas_mm": pl.Float64,
    "lower": pl.Float64,
    "upper": pl.Float64,
    "excluding_flags": pl.String,
    "valid_from": pl.Date,
}
NO_TARGET = pl.DataFrame(
    schema={"mix_id": pl.String, "revision": pl.Int64, "property": pl.String, "point": pl.Float64, "target": pl.Float64}
)


def run(values: list[dict[str, object]], *limits: dict[str, object], target: pl.DataFrame = NO_TARGET) -> pl.DataFrame:
    given = pl.DataFrame(
        [{"point": None, "withheld": None, "flags": None, "value": None} | value for value in values],
        schema={
            "sample_id": pl.String,
            "property": pl.String,
            "point": pl.Float64,
            "value": pl.Float64,
            "withheld": pl.String,
            "flags": pl.String,
        },
    )
    frame = pl.DataFrame([LIMIT | limit for limit in limits], schema_overrides=LIMIT_TYPES)
    return judge(SAMPLES, given, frame, target, as_reported, {"assumed": "vma", "other": "pb"}).sort(
        "sample_id", "limit_id"
    )


@pytest.mark.parametrize(("vma", "verdict"), [(14.44, "pass"), (13.96, "pass"), (13.94, "fail")])
def test_minimum_vma_of_a_12_5_mm_mix(vma: float, verdict: str) -> None:
    """14.0 % for 12.5 mm: FE Reference Handbook v9.2, Superpave page. 13.96 is reported as 14.0 (ASTM E29)."""
    judged = run([{"sample_id": "A", "property": "vma", "value": vma}], {"lower": 14.0, "nmas_mm": 12.5})
    assert judged["verdict"].to_list() == [verdict]


def test_a_limit_for_another_size_or_phase_does_not_touch_the_sample() -> None:
    judged = run(
        [{"sample_id": "A", "property": "vma", "value": 1.0}],
        {"lower": 13.0, "nmas_mm": 19.0},
        {"lower": 13.0, "phase": "startup"},
    )
    assert judged.is_empty()


def test_binder_content_around_its_target() -> None:
    """Tolerance of 0.5 % on binder: WSDOT 5-04.3(9) as printed in a City of Everett contract (2024), p. 68."""
    target = pl.DataFrame(
        {"mix_id": ["M"], "revision": [1], "property": ["pb"], "point": [None], "target": [5.3]}
    ).cast({"point": pl.Float64})
    limit = {"property": "pb", "basis": "from_target", "lower": -0.5, "upper": 0.5}
    values = [{"sample_id": sample, "property": "pb", "value": 5.9} for sample in "AB"]
    judged = run(values, limit, target=target)
    assert judged.select("lower", "upper", "verdict").row(0) == (pytest.approx(4.8), pytest.approx(5.8), "fail")
    assert judged.row(1, named=True)["verdict"] == "not_judged"
    assert judged.row(1, named=True)["reason"] == "no target for pb in mix design M revision 2"


def test_a_required_result_that_is_missing_is_listed_with_its_reason() -> None:
    judged = run(
        [{"sample_id": "A", "property": "vma", "withheld": "Gsb missing in mix design M revision 1"}],
        {"lower": 14.0, "required": True},
    )
    assert judged["verdict"].to_list() == ["not_judged"] * 2
    assert judged["reason"].to_list() == [
        "Gsb missing in mix design M revision 1",
        "no result: the test is missing",
    ]


def test_an_excluding_flag_keeps_a_result_from_being_judged_and_shows_it() -> None:
    value = {"sample_id": "A", "property": "vma", "value": 10.0, "flags": "other water_absorbed_above_limit"}
    excluded = run([value], {"lower": 14.0, "excluding_flags": "water_absorbed_above_limit"})
    assert excluded.select("verdict", "value").row(0) == ("not_judged", 10.0)
    assert run([value], {"lower": 14.0, "excluding_flags": "another"})["verdict"].to_list() == ["fail"]
    assert run([value], {"lower": 14.0, "excluding_flags": ""})["verdict"].to_list() == ["fail"]


def test_a_figure_that_stands_in_for_a_test_is_never_a_result() -> None:
    value = {"sample_id": "A", "property": "vma", "value": 15.0, "flags": "assumed"}
    (row,) = run([value], {"lower": 14.0, "required": True}).filter(pl.col("sample_id") == "A").to_dicts()
    assert (row["verdict"], row["reason"]) == (
        "not_judged",
        "no result: the figure stands in for a test that was not made",
    )


def test_targets_come_from_design_and_gradation() -> None:
    design = pl.DataFrame({"mix_id": ["M"], "revision": [1], "pb_pct": [5.3], "vma_pct": [None]})
    gradation = pl.DataFrame({"mix_id": ["M"], "revision": [1], "sieve_mm": [4.75], "passing_pct": [62.0]})
    found = targets(design.cast({"vma_pct": pl.Float64}), gradation, {"pb": "pb_pct", "vma": "vma_pct", "gse": "gse"})
    assert found.select("property", "point", "target").sort("property").rows() == [
        ("passing", 4.75, 62.0),
        ("pb", None, 5.3),
    ]
