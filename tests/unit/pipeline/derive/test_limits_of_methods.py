"""Limits of the methods that a raw record can show: each is kept, or the figure stands flagged."""

import pytest

from pipeline.derive import Inputs, derive
from pipeline.validation import records
from pipeline.validation.records import design, frame, of_gmb, of_gmm, sample

Row = dict[str, object]
KEY: Row = {"sample_id": "S1", "specimen_no": "1"}


def codes(prop: str, level: str = "specimen", **made: list[Row]) -> set[str]:
    """Return the flags of the figures of a property."""
    given = {"sample": [sample()], "mix_design": [design(n_initial=8, n_design=100, n_maximum=160)]} | made
    values = derive(Inputs.of(**{name: frame(name, rows) for name, rows in given.items()})).property_values
    found = [row for row in values.to_dicts() if (row["property"], row["level"]) == (prop, level)]
    assert found and all(row["value"] is not None for row in found)
    return {code for row in found for code in (row["flags"] or "").split()}


@pytest.mark.parametrize(
    ("given", "flag"),
    [
        ({"bath_set_c": 50.0, "bath_min_c": 49.0, "bath_max_c": 51.0, "soak_time_min": 65.0}, None),
        ({"bath_set_c": 50.0, "bath_min_c": 48.9, "bath_max_c": 50.5}, "bath_temperature_off_set_point"),
        ({"bath_set_c": 50.0, "bath_min_c": 49.5, "bath_max_c": 51.1}, "bath_temperature_off_set_point"),
        ({"soak_time_min": 40.0}, "conditioning_off"),
        ({"specimen_height_mm": 62.0}, None),
        ({"specimen_height_mm": 110.0}, "specimen_out_of_limits"),
    ],
)
def test_wheel_runs(given: Row, flag: str | None) -> None:
    values = records.wheel([2, 5000, 10000], [0.05, 2.0, 3.0], **given)
    (row,) = (
        r for r in values.to_dicts() if (r["property"], r["level"], r["point"]) == ("rut_depth", "specimen", 5000)
    )
    assert row["flags"] == flag


@pytest.mark.parametrize(
    ("first", "depth", "flag"), [(2, 0.05, None), (2, 0.3, "first_reading_offset"), (50, 0.7, None)]
)
def test_a_first_reading_off_zero(first: int, depth: float, flag: str | None) -> None:
    values = records.wheel([first, 5000, 10000], [depth, 2.0, 3.0])
    (row,) = (
        r for r in values.to_dicts() if (r["property"], r["level"], r["point"]) == ("rut_depth", "specimen", 5000)
    )
    assert row["flags"] == flag


@pytest.mark.parametrize(("minutes", "flags"), [(None, set()), (17.0, set()), (12.0, {"vacuum_time_off"})])
def test_time_under_vacuum(minutes: float | None, flags: set[str]) -> None:
    weighing = [{**row, "vacuum_min": minutes} for row in of_gmm(2.5)]
    assert codes("gmm", weighing=weighing) == flags


@pytest.mark.parametrize(
    ("given", "height", "flag"),
    [
        ({"mould_diameter_mm": 150.0}, 115.0, None),
        ({"mould_diameter_mm": 150.3}, 115.0, "mould_out_of_limits"),
        ({}, 121.0, "specimen_out_of_limits"),
        ({"mould_diameter_mm": 100.0}, 63.0, None),
    ],
)
def test_mould_and_height_of_the_gyratory(given: Row, height: float, flag: str | None) -> None:
    run = {**KEY, "gyrations": 100, "stop_rule": "gyrations", **given}
    heights = [{**KEY, "gyration": 100, "height_mm": height}]
    found = codes("gmb_n_design", weighing=of_gmb(2.4), compaction_run=[run], compaction_height=heights)
    assert found == ({flag} if flag else set())


@pytest.mark.parametrize(
    ("given", "lengths", "flag"),
    [
        ({"test_delay_s": 30.0}, (63.0, 64.6), None),
        ({"test_delay_s": 31.0}, (), "conditioning_off"),
        ({}, (63.0, 64.7), "specimen_out_of_limits"),
    ],
)
def test_marshall_specimens(given: Row, lengths: tuple[float, ...], flag: str | None) -> None:
    test = {**KEY, "method": "t245", "specimen_diameter_mm": 101.6, "specimen_thickness_mm": 63.2}
    role: Row = {**KEY, "method": "t245", "role": "height"}
    dimension = [{**role, "reading": number, "length_mm": length} for number, length in enumerate(lengths, start=1)]
    load = [{**test, "peak_load_stated_n": 10_000.0, **given}]
    assert codes("marshall_stability", load_test=load, dimension=dimension) == ({flag} if flag else set())


@pytest.mark.parametrize(("thickness", "flags"), [(95.0, set()), (89.0, {"groups_thickness_differ"})])
def test_groups_of_the_strength_ratio(thickness: float, flags: set[str]) -> None:
    base = {"sample_id": "S1", "method": "t283", "specimen_diameter_mm": 150.0, "peak_load_stated_n": 20_000.0}
    tests = [
        {**base, "specimen_no": f"{state}{number}", "conditioning": state, "specimen_thickness_mm": size}
        for state, size in (("dry", 95.0), ("conditioned", thickness))
        for number in range(3)
    ]
    assert codes("tsr", "sample", load_test=tests) & {"groups_thickness_differ"} == flags
