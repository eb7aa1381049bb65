"""Published worked examples, by hand and through the derivation of records."""

from typing import Any

import polars as pl
import pytest

from pipeline.compute import ContradictionError, compute
from pipeline.derive import Inputs, derive
from pipeline.formulas.water import ratio_to_25
from tests.check_values.examples import entries, named
from tests.check_values.records import derived, design, frame, retained, sample, weighed

EXAMPLES = entries("example")
RECORDED = [
    each for each in EXAMPLES if not each.get("by_hand") and derived(each["property"], each["inputs"]) is not None
]


def test_data_files_hold_sources_and_are_complete() -> None:
    ids = [(each["file"], each["id"]) for each in EXAMPLES]
    assert len(ids) == len(set(ids))
    assert len(EXAMPLES) >= 60
    for each in EXAMPLES:
        assert each["source"] and each["place"] and each["why"]
        assert each["mark"] in {"seen", "from memory", "computed", "own numbers"}


def verify(entry: dict[str, Any], value: float) -> None:
    """Compare with the published figure, or, where that contradicts its own inputs, with what they give."""
    if entry.get("follows", True):
        assert value == pytest.approx(entry["published"], abs=entry["tolerance"])
    else:
        assert value != pytest.approx(entry["published"], abs=entry["tolerance"])
        assert value == pytest.approx(entry["recomputed"], abs=entry["tolerance"])


@pytest.mark.parametrize("entry", [named(each) for each in EXAMPLES])
def test_by_hand(entry: dict[str, Any]) -> None:
    done = compute(entry["property"], entry["inputs"])
    verify(entry, done.value)
    if "flags" in entry:
        assert list(done.codes) == entry["flags"]


@pytest.mark.parametrize("entry", [named(each) for each in RECORDED])
def test_through_records(entry: dict[str, Any]) -> None:
    result = derived(entry["property"], entry["inputs"])
    assert result is not None
    found = result.property_values.filter(
        pl.col("property") == entry["property"],
        pl.col("level") == ("specimen" if entry["property"] == "sieving_loss" else "sample"),
    )
    wanted = found.filter(pl.col("sample_id") == "C1") if entry["file"] == "cores" else found
    (row,) = wanted.iter_rows(named=True)
    verify(entry, row["value"])
    flags = set((row["flags"] or "").split())
    assert set(entry.get("flags", [])) <= flags


def test_enough_examples_run_through_records() -> None:
    assert len(RECORDED) >= 40


@pytest.mark.parametrize("entry", [pytest.param(each, id=each["id"]) for each in entries("contradiction")])
def test_contradictory_values_are_refused(entry: dict[str, Any]) -> None:
    with pytest.raises(ContradictionError) as refused:
        compute(entry["property"], entry["inputs"])
    assert str(refused.value).startswith(entry["message"])


@pytest.mark.parametrize("entry", [named(each) for each in entries("water_ratio")])
def test_density_ratio_of_water(entry: dict[str, Any]) -> None:
    ratio = pl.select(ratio_to_25(pl.lit(entry["temperature"]))).item()
    assert ratio == pytest.approx(entry["published"], abs=entry["tolerance"])


@pytest.mark.parametrize("entry", [named(each) for each in entries("gradation")])
def test_gradation_through_records(entry: dict[str, Any]) -> None:
    rows = weighed("t30", before_wash=entry["mass_before_wash"], after_wash=entry["mass_after_wash"])
    masses = dict(zip(entry["sieve_mm"], entry["mass_retained"], strict=True)) | {0.0: entry["pan"]}
    made = {"sample": [sample()], "mix_design": [design()], "weighing": rows + retained(masses)}
    values = derive(Inputs.of(**{record: frame(record, each) for record, each in made.items()})).property_values
    passing = values.filter(pl.col("property") == "passing", pl.col("level") == "sample").sort("point", descending=True)
    assert passing["point"].to_list() == entry["sieve_mm"]
    assert passing["value"].to_list() == pytest.approx(entry["passing"], abs=entry["tolerance"])
    (loss,) = values.filter(pl.col("property") == "sieving_loss")["value"]
    assert loss == pytest.approx(entry["sieving_loss"], abs=0.005)
    assert values["flags"].drop_nulls().is_empty()


@pytest.mark.parametrize("entry", [named(each) for each in entries("run")])
def test_rut_depths_through_records(entry: dict[str, Any]) -> None:
    header = {
        "sample_id": "S1",
        "specimen_no": "1",
        "wheel": "left",
        "passes": entry["passes"],
        "stop_reason": "passes",
    }
    positions = [f"depth_{number:02d}_mm" for number in range(1, 12)]
    key = {name: header[name] for name in ("sample_id", "specimen_no", "wheel")}
    depths = [
        {**key, "wheel_pass": at, **dict.fromkeys(positions, depth)}
        for at, depth in zip(entry["wheel_pass"], entry["depth_mm"], strict=True)
    ]
    made = {"sample": [sample()], "mix_design": [design()], "wheel_run": [header], "wheel_depth": depths}
    values = derive(Inputs.of(**{record: frame(record, each) for record, each in made.items()})).property_values
    wheel = values.filter(pl.col("level") == "specimen", pl.col("property") == "rut_depth").sort("point")
    assert wheel["point"].to_list() == entry["at"]
    assert wheel["value"].to_list() == pytest.approx(entry["published"], abs=entry["tolerance"])
    assert wheel["flags"].to_list() == [None, None, None, entry["last_flag"]]
