"""Binder content: which method gives it, what its burns must keep, and the moisture it is freed of."""

import pytest

from pipeline.derive import Derived, Inputs, derive
from pipeline.settings import Results
from pipeline.validation.records import design, frame, sample, weighed

Rows = list[dict[str, object]]
KEY = {"sample_id": "S1", "specimen_no": "1"}
BURNT = weighed("t308", before_burn=2000.0, after_burn=1890.0)
EXTRACTED = weighed("t164", before_extraction=1500.0, water_in_portion=1.5, extracted=1412.0, mineral_matter=5.5)


def figures(weighing: Rows, choices: Results | None = None, **records: Rows) -> Derived:
    """Derive from the weighings of one sample whose mix design states a correction of 0.2 %."""
    mix = [design(ignition_correction_pct=0.2)]
    made = {"sample": [sample()], "mix_design": mix, "weighing": weighing} | records
    return derive(Inputs.of(**{name: frame(name, rows) for name, rows in made.items()}), choices)


def found(result: Derived, prop: str, level: str = "sample") -> dict[str, object]:
    """Return the only row of a property."""
    (row,) = (r for r in result.property_values.to_dicts() if (r["property"], r["level"]) == (prop, level))
    return row


@pytest.mark.parametrize(
    ("setting", "route", "value"), [("ignition", "ignition", 5.3), ("extraction", "extraction", 5.4054)]
)
def test_the_setting_says_which_binder_content_counts(setting: str, route: str, value: float) -> None:
    row = found(figures(BURNT + EXTRACTED, Results(binder_content_from=setting)), "pb")
    assert (row["route"], row["value"]) == (route, pytest.approx(value, abs=1e-4))
    assert f'"binder_content_from": "{setting}"' in str(row["parameters"])


def test_what_was_not_tested_first_stands_in() -> None:
    assert found(figures(BURNT, Results(binder_content_from="extraction")), "pb")["route"] == "ignition"


def test_moisture_of_the_sample_is_taken_off_the_ignition_loss() -> None:
    moist = weighed("t329", oven_container=100.0, oven_container_moist=1101.0)
    series = [{**KEY, "method": "t329", "reading": number, "mass_g": 1100.0} for number in (1, 2)]
    result = figures(BURNT + moist, drying_weighing=series)
    assert found(result, "moisture")["value"] == pytest.approx(0.1)
    assert found(result, "pb")["value"] == pytest.approx(5.5 - 0.2 - 0.1)


@pytest.mark.parametrize(
    ("given", "masses", "flag"),
    [
        ({"furnace_set_c": 538.0, "end_change_pct": 0.01}, BURNT, None),
        ({"furnace_set_c": 560.0}, BURNT, "furnace_temperature_off"),
        ({"furnace_set_c": 482.0}, BURNT, None),
        ({"end_change_pct": 0.02}, BURNT, "end_point_not_reached"),
        ({}, weighed("t308", before_burn=1400.0, after_burn=1323.0), "test_portion_too_small"),
        (
            {},
            weighed("t308", basket=3000.0, basket_before_burn=4400.0, basket_after_burn=4323.0),
            "test_portion_too_small",
        ),
    ],
)
def test_limits_of_a_burn(given: dict[str, object], masses: Rows, flag: str | None) -> None:
    row = found(figures(masses, ignition_burn=[{**KEY, "purpose": "test", **given}]), "pb")
    assert row["flags"] == flag
    assert row["value"] == pytest.approx(5.3)


def test_a_calibration_is_no_test_of_the_sample() -> None:
    burn = {**KEY, "purpose": "calibration", "pb_known_pct": 5.0}
    result = figures(BURNT, ignition_burn=[burn])
    assert "pb" not in set(result.property_values["property"])
    row = found(result, "ignition_correction_found")
    assert (row["value"], row["flags"]) == (pytest.approx(0.5), "too_few_calibration_samples")


@pytest.mark.parametrize(
    ("given", "flag"),
    [({"oven_temperature_c": 180.0}, "oven_temperature_off"), ({"dried_min": 60.0}, "drying_too_short")],
)
def test_limits_of_the_oven(given: dict[str, object], flag: str) -> None:
    moist = weighed("t329", oven_container=100.0, oven_container_moist=1101.0)
    series = [{**KEY, "method": "t329", "reading": number, "mass_g": 1100.0, **given} for number in (1, 2)]
    assert found(figures(moist, drying_weighing=series), "moisture")["flags"] == flag


def test_one_weighing_cannot_show_constant_mass() -> None:
    moist = weighed("t329", oven_container=100.0, oven_container_moist=1101.0)
    series = [{**KEY, "method": "t329", "reading": 1, "mass_g": 1100.0}]
    assert found(figures(moist, drying_weighing=series), "moisture")["flags"] == "mass_not_constant"
