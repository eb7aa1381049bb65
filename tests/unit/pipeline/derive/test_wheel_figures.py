"""Wheel runs -> figures of passes and stripping: what is withheld, what is flagged, and what both wheels make."""

import json

import pytest

from pipeline.compute import compute
from pipeline.derive import Derived, Inputs, derive
from pipeline.settings import Results
from pipeline.solving import ContradictionError
from pipeline.validation.records import design, frame, sample
from tests.unit.pipeline.derive.test_derive import one, track

STEADY = {"speed_per_min": 52.0, "specimen_air_voids_pct": 7.0, "passes_set": 20000}


def stripping(knot: int, last: int = 20000, step: int = 100) -> dict[int, float]:
    """Return depths of two lines that meet at a pass."""
    return {at: round(1 + 2e-4 * at + 1e-3 * max(at - knot, 0), 4) for at in range(step, last + 1, step)}


def wheels(
    left: dict[int, float], right: dict[int, float] | None, choices: Results | None = None, **given: object
) -> Derived:
    """Derive the figures of one test, a record per wheel."""
    runs, depths = [], []
    for side, series in (("left", left), ("right", right)):
        if series is not None:
            header, rows = track(side, series, **(STEADY | given))
            runs.append(header)
            depths += [row | {"source_line": line} for line, row in enumerate(rows, start=20)]
    made = {"sample": [sample()], "mix_design": [design()], "wheel_run": runs, "wheel_depth": depths}
    return derive(Inputs.of(**{name: frame(name, rows) for name, rows in made.items()}), choices)


def test_both_wheels_make_the_mean_with_its_spread() -> None:
    result = wheels(stripping(11000), stripping(13000))
    row = one(result, "sip_lines")
    assert (row["value"], row["n"], row["flags"]) == (pytest.approx(12000), 2, None)
    assert row["spread"] == pytest.approx(2000 / 2**0.5)
    assert one(result, "slope_ratio_lines")["value"] == pytest.approx(6)
    assert json.loads(str(row["parameters"]))["lines_procedure"].startswith("continuous two-segment")


def test_a_wheel_that_does_not_strip_says_so_and_leaves_no_mean() -> None:
    creep = {at: 3 * (at / 10000) ** 0.25 for at in range(100, 20001, 100)}
    result = wheels(stripping(11000), creep)
    told = "the mix counts as non-stripping: no inflection point (slope ratio at least 2, both slopes rising)"
    row = one(result, "sip_lines", "specimen", specimen_no="1 right")
    assert (row["value"], row["withheld"], row["flags"]) == (None, told, "no_stripping")
    assert one(result, "sip_lines", "specimen", specimen_no="1 left")["value"] == pytest.approx(11000)
    assert one(result, "sip_lines")["withheld"] == told
    # The polynomial always bends somewhere: its number is doubted.
    number = one(result, "stripping_number_polynomial", "specimen", specimen_no="1 right")
    assert number["value"] is None or number["flags"] == "polynomial_doubtful"
    log = str(one(result, "stripping_number_log_model", "specimen", specimen_no="1 right")["withheld"])
    assert log.startswith("right wheel: no stripping number within the test")


def test_passes_to_the_limit_and_resistance_index() -> None:
    result = wheels(stripping(8000), stripping(8050), stop_reason="depth")
    first = one(result, "passes_to_limit_depth", "specimen", specimen_no="1 left")
    assert first["value"] == 16300
    between = one(result, "passes_to_limit_depth_interpolated", "specimen", specimen_no="1 left")
    assert between["value"] == pytest.approx(8000 + (12.5 - 2.6) / 1.2e-3)
    index = one(result, "rutting_resistance_index", "specimen", specimen_no="1 left")
    assert index["value"] == pytest.approx(16300 * (1 - 12.5 / 25.4))
    shallow = wheels(stripping(19000), None)
    assert one(shallow, "passes_to_limit_depth", "specimen")["withheld"] == (
        "left wheel: 12.5 mm not reached in 20000 passes"
    )
    assert one(shallow, "rutting_resistance_index", "specimen")["value"] == pytest.approx(20000 * (1 - 6 / 25.4))
    deeper = wheels(stripping(8000), None, Results(wheel_depth_limit_mm=6.0, wheel_zeroed=True))
    # Zeroed: 1.02 mm at the first reading come off every depth.
    assert one(deeper, "passes_to_limit_depth_interpolated", "specimen")["value"] == pytest.approx(
        8000 + (6 + 1.02 - 2.6) / 1.2e-3
    )


def test_corrected_depths_go_by_the_depth_as_recorded() -> None:
    plain, zeroed = (wheels(stripping(9000), None, Results(wheel_zeroed=choice)) for choice in (False, True))
    number = one(plain, "stripping_number_polynomial", "specimen")["value"]
    slope = one(plain, "creep_slope_polynomial", "specimen")["value"]
    measured = 1 + 2e-4 * number + 1e-3 * max(number - 9000, 0)  # type: ignore[operator]
    for at in (10000.0, 20000.0):
        expected = measured + slope * (at - number)  # type: ignore[operator]
        for result in (plain, zeroed):
            row = one(result, "corrected_rut_depth_polynomial", "specimen", point=at)
            assert (row["value"], row["route"]) == (pytest.approx(expected, abs=1e-4), "creep_tangent")


@pytest.mark.parametrize(
    ("given", "change", "flag"),
    [
        ({"speed_per_min": 55.0}, {}, "wheel_rate_off"),
        ({"specimen_air_voids_pct": 7.6}, {}, "specimen_voids_off"),
        ({"stop_reason": "operator"}, {}, "run_ended_early"),
        ({}, {5000: 1.5}, "rut_falls"),
    ],
)
def test_doubts_about_the_record(given: dict[str, object], change: dict[int, float], flag: str) -> None:
    result = wheels(stripping(12000) | change, None, **given)
    for prop in ("rut_depth", "sip_lines", "rutting_resistance_index"):
        row = one(result, prop, "specimen", **({"point": 10000.0} if prop == "rut_depth" else {}))
        assert row["flags"] == flag, prop


def test_gaps_and_a_counter_that_falls_back() -> None:
    gap = {at: depth for at, depth in stripping(12000).items() if not 4000 < at < 5500}
    assert one(wheels(gap, None), "sip_lines", "specimen")["flags"] == "pass_counter_doubtful"
    rows = list(stripping(12000).items())
    rows[50], rows[51] = rows[51], rows[50]
    assert one(wheels(dict(rows), None), "sip_lines", "specimen")["flags"] == "pass_counter_doubtful"


def test_tolerance_of_the_voids_is_a_setting() -> None:
    wide = wheels(stripping(12000), None, Results(wheel_voids_tolerance_pct=1.0), specimen_air_voids_pct=7.6)
    assert one(wide, "sip_lines", "specimen")["flags"] is None


def test_a_run_without_readings_has_a_reason_for_every_figure() -> None:
    header, _ = track("left", {100: 1.0})
    made = {"sample": [sample()], "mix_design": [design()], "wheel_run": [header]}
    result = derive(Inputs.of(**{name: frame(name, rows) for name, rows in made.items()}))
    specimens = result.property_values.filter(level="specimen")
    assert specimens["value"].is_null().all()
    assert specimens["withheld"].is_not_null().all()
    assert {"sip_lines", "stripping_number_polynomial", "stripping_number_log_model"} <= set(specimens["property"])


def test_lines_by_hand_keep_the_rule_of_the_slope_ratio() -> None:
    lines = {"creep_slope": 2e-4, "creep_intercept": 2.0, "stripping_slope": 3e-4, "stripping_intercept": 1.0}
    assert compute("line_intersection", lines).value == pytest.approx(10000)
    with pytest.raises(ContradictionError, match="non-stripping: no inflection point"):
        compute("sip_lines", lines)
    with pytest.raises(ContradictionError, match="gives no finite number"):
        compute("line_intersection", lines | {"stripping_slope": 1e-4})


def test_strain_increment_is_the_slope_of_the_curve() -> None:
    curve = {"viscoplastic_depth": 32.0, "viscoplastic_alpha": 790_000.0, "viscoplastic_lambda": 0.1416}
    near = [compute("corrected_rut_depth_log_model", curve, pass_asked=10000 + off).value for off in (-1, 1)]
    found = compute("viscoplastic_strain_increment", curve, specimen_height=62.0, pass_asked=10000).value
    assert found == pytest.approx((near[1] - near[0]) / 2 / 62, rel=1e-6)
