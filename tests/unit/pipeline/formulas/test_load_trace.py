"""Procedures over load traces against independent libraries; traces that give no number say why."""

import math

import numpy as np
import polars as pl
import pytest
from scipy import integrate, stats

from pipeline.settings import Results, SettingsError
from tests.check_values.load_records import Row, broken, one, trace, values

SIZES = {"specimen_thickness_mm": 62.0, "specimen_diameter_mm": 150.0}
HALF_DISC = {"specimen_thickness_mm": 50.0, "specimen_diameter_mm": 150.0, "notch_mm": 15.0}


def bell(
    peak: float = 15_000.0, at: float = 3.0, tail: float = 2.0, step: float = 0.08
) -> tuple[list[float], list[float]]:
    """Return a smooth trace: a quarter sine up, half a bell down to nothing."""
    way = np.arange(0, at + 4 * tail, step)
    load = np.where(way < at, np.sin(np.pi / 2 * way / at), np.exp(-(((way - at) / tail) ** 2) / 2)) * peak
    return way.tolist(), load.tolist()


def figures(
    method: str, ways: list[float], loads: list[float], rate: float | None = None, **header: object
) -> pl.DataFrame:
    """Derive from one load test."""
    test = broken(method, **header)
    return values(load_test=[test], load_point=trace(test, ways, loads, rate))


def flags(row: Row) -> set[str]:
    """Return the codes of a row."""
    return set(str(row["flags"] or "").split())


def test_work_is_the_area_to_the_end_load() -> None:
    ways, loads = bell()
    found = figures("d8225", ways, loads, **SIZES)
    last = next(at for at, load in enumerate(loads) if at > 40 and load < 100)
    end = ways[last - 1] + (loads[last - 1] - 100) / (loads[last - 1] - loads[last]) * (ways[last] - ways[last - 1])
    area = integrate.trapezoid([*loads[:last], 100.0], [*ways[:last], end])
    assert one(found, "work_of_failure")["value"] == pytest.approx(area / 1000, rel=1e-12)
    assert one(found, "work_of_failure")["flags"] is None


def test_points_after_the_peak_are_interpolated() -> None:
    ways, loads = bell()
    found = figures("d8225", ways, loads, **SIZES)
    after = [(load, way) for way, load in zip(ways, loads, strict=True) if way >= ways[int(np.argmax(loads))]]
    falling, places = zip(*reversed(after), strict=True)
    l85, l65 = (float(np.interp(share * max(loads), falling, places)) for share in (0.85, 0.65))
    slope = 0.20 * max(loads) / (l65 - l85) / 1000
    assert one(found, "post_peak_slope")["value"] == pytest.approx(slope, rel=1e-9)


def test_displacement_counts_from_the_first_reading() -> None:
    ways, loads = bell()
    shifted = figures("d8225", [way + 7.5 for way in ways], loads, **SIZES)
    plain = figures("d8225", ways, loads, **SIZES)
    assert one(shifted, "ct_index")["value"] == pytest.approx(float(one(plain, "ct_index")["value"]), rel=1e-9)  # type: ignore[arg-type]


def test_flow_starts_where_the_fitted_tangent_meets_zero_load() -> None:
    ways, loads = bell(peak=11_000.0, at=3.2)
    part = [
        (way, load) for way, load in zip(ways, loads, strict=True) if way <= 3.2 and 0.4 <= load / max(loads) <= 0.8
    ]
    fit = stats.linregress(*zip(*part, strict=True))
    flow = (ways[int(np.argmax(loads))] + fit.intercept / fit.slope) / 0.25
    found = one(figures("t245", ways, loads, specimen_diameter_mm=101.6, specimen_thickness_mm=63.5), "marshall_flow")
    assert found["value"] == pytest.approx(flow, rel=1e-9)
    assert found["parameters"] == ('{"flow_tangent_from_pct": 40, "flow_tangent_to_pct": 80, "peak_drop_pct": 5}')


def test_slow_contact_does_not_lengthen_the_flow() -> None:
    """A toe of 1 mm before the load rises leaves the flow as it was."""
    straight = ([each / 4 for each in range(13)] + [4.0], [each * 1e3 for each in range(13)] + [6e3])
    toe = ([0.0, 0.5, *(1 + way for way in straight[0])], [0.0, 0.0, *straight[1]])
    sizes = {"specimen_diameter_mm": 101.6, "specimen_thickness_mm": 63.5}
    for ways, loads in (straight, toe):
        assert one(figures("t245", ways, loads, **sizes), "marshall_flow")["value"] == pytest.approx(12.0, abs=1e-9)


def test_steepest_slope_is_that_of_the_polynomial_numpy_fits() -> None:
    ways, loads = bell(peak=4000.0, at=1.0, tail=1.2, step=0.02)
    found = one(figures("t393", ways, loads, **HALF_DISC), "inflection_slope")
    top = int(np.argmax(loads))
    low = next(at for at, load in enumerate(loads) if at > top and load <= 0.2 * max(loads))
    fitted = np.polynomial.Polynomial.fit(ways[top : low + 1], loads[top : low + 1], 5).deriv()
    steepest = min(fitted(np.linspace(ways[top], ways[low], 100_001)))
    assert found["value"] == pytest.approx(-steepest / 1000, rel=1e-6)
    # A bell is steepest one tail beyond its top, at peak · e^(-1/2) / tail; the fit comes within 1 %.
    assert found["value"] == pytest.approx(4.0 * math.exp(-0.5) / 1.2, rel=0.01)


RISING = ([0.0, 1.0, 2.0, 3.0], [0.0, 4e3, 8e3, 12e3])
PLATEAU = ([0.0, 1.0, 2.0, 3.0, 4.0], [0.0, 4e3, 8e3, 12e3, 11.9e3])
NOTHING = ([0.0, 1.0, 2.0], [0.0, -5.0, 0.0])
HALTED = ([0.0, 1.0, 2.0, 3.0, 4.0], [0.0, 6e3, 12e3, 9e3, 8.4e3])
NO_PEAK = "the trace has no peak: the load never falls by 5 % after its largest reading"


@pytest.mark.parametrize(
    ("method", "prop", "record", "reason"),
    [
        ("t283", "tensile_strength", RISING, NO_PEAK),
        ("t283", "tensile_strength", PLATEAU, NO_PEAK),
        ("t283", "tensile_strength", NOTHING, "the trace has no load above zero"),
        ("t245", "marshall_stability", RISING, NO_PEAK),
        ("t245", "marshall_flow", RISING, NO_PEAK),
        ("d8225", "ct_index", RISING, NO_PEAK),
        ("d8225", "ct_index", HALTED, "the trace ends before the load falls to 65 % of its peak"),
        ("t393", "flexibility_index", HALTED, "the trace ends before the load falls to 20 % of its peak"),
        ("t393", "flexibility_index", ([0.0, 1.0, 2.0], [0.0, 4e3, 0.0]),
         "too few readings between the peak and 20 % of it: the fit is not unique"),
        ("t393", "flexibility_index",
         (list(np.linspace(0, 10, 201)), [4e3 * way if way < 1 else 4e3 / way**2 for way in np.linspace(0, 10, 201)]),
         "the curve fitted after the peak has no inflection"),
        ("t245", "marshall_flow", ([0.0, 1.0, 2.0], [0.0, 12e3, 6e3]),
         "fewer than 3 readings between 40 and 80 % of the peak load: no tangent can be fitted"),
        ("t245", "marshall_flow", ([0.0, 1.0, 1.0, 1.0, 2.0, 3.0], [0.0, 6e3, 7e3, 8e3, 12e3, 6e3]),
         "the readings the tangent is fitted to do not rise with the displacement"),
        ("d8360", "rapid_shear_index", PLATEAU, NO_PEAK),
    ],
)  # fmt: skip
def test_a_trace_that_gives_no_number_says_why(
    method: str, prop: str, record: tuple[list[float], list[float]], reason: str
) -> None:
    four_inch = {"specimen_thickness_mm": 63.5, "specimen_diameter_mm": 101.6}
    row = one(figures(method, *record, **(four_inch if method == "t245" else SIZES | HALF_DISC)), prop)
    assert row["value"] is None
    assert reason in str(row["withheld"]).split("; ")


def test_a_stated_load_does_not_stand_in_for_a_trace_without_a_peak() -> None:
    row = one(figures("t283", *RISING, peak_load_stated_n=12e3, **SIZES), "tensile_strength")
    assert row["value"] is None
    assert row["withheld"] == NO_PEAK


def test_missing_sizes_are_named() -> None:
    row = one(figures("t283", *bell(), specimen_thickness_mm=62.0), "tensile_strength")
    assert row["value"] is None
    assert row["withheld"] == "diameter of the specimen missing"


def test_a_trace_cut_short_is_flagged_wherever_its_work_counts() -> None:
    ways, loads = bell()
    kept = next(at for at, load in enumerate(loads) if at > 40 and load < 3000)
    found = figures("d8225", ways[:kept], loads[:kept], **SIZES)
    for prop in ("work_of_failure", "fracture_energy", "ct_index"):
        assert flags(one(found, prop)) == {"trace_cut_short"}


def test_several_crossings_take_the_first_and_say_so() -> None:
    ways = [0.0, 2.0, 3.0, 3.5, 4.0, 6.0, 8.0]
    loads = [0.0, 10e3, 8e3, 9e3, 8e3, 4e3, 0.0]
    found = figures("d8225", ways, loads, **SIZES)
    row = one(found, "post_peak_slope")
    # 85 % first at 2.75 mm; 65 % between 8 and 4 kN at 4.75 mm.
    assert row["value"] == pytest.approx(2.0 / (4.75 - 2.75), rel=1e-12)
    assert flags(row) == {"load_crosses_again"}


@pytest.mark.parametrize(
    ("method", "prop", "given", "code"),
    [
        ("d8225", "ct_index", {"specimen_thickness_mm": 63.2}, "specimen_out_of_limits"),
        ("d8225", "ct_index", {"specimen_diameter_mm": 147.5}, "specimen_out_of_limits"),
        ("d8225", "ct_index", {"air_voids_stated_pct": 7.6}, "specimen_out_of_limits"),
        ("d8225", "ct_index", {"test_temperature_c": 26.2}, "test_conditions_off"),
        ("d8225", "ct_index", {"rate_mm_per_min": 45.0}, "test_conditions_off"),
        ("t393", "flexibility_index", {"notch_mm": 16.5}, "specimen_out_of_limits"),
        ("t393", "flexibility_index", {"specimen_thickness_mm": 48.5}, "specimen_out_of_limits"),
        ("t245", "marshall_stability", {"soak_time_min": 45.0}, "conditioning_off"),
        ("t245", "marshall_stability", {"test_temperature_c": 58.5}, "test_conditions_off"),
        ("t283", "tensile_strength_dry", {"air_voids_stated_pct": 6.4}, "specimen_out_of_limits"),
        ("t283", "tensile_strength_dry", {"specimen_thickness_mm": 89.0}, "specimen_out_of_limits"),
        ("t283", "tensile_strength_conditioned", {"freeze_temperature_c": -14.0}, "conditioning_off"),
        ("t283", "tensile_strength_conditioned", {"freeze_time_min": 900.0}, "conditioning_off"),
        ("t283", "tensile_strength_conditioned", {"thaw_temperature_c": 62.0}, "conditioning_off"),
        ("t283", "tensile_strength_conditioned", {"thaw_time_min": 1300.0}, "conditioning_off"),
        ("t283", "tensile_strength_conditioned", {"soak_time_min": 60.0}, "conditioning_off"),
    ],
)
def test_what_the_raw_record_shows_off_limits_is_flagged(
    method: str, prop: str, given: dict[str, object], code: str
) -> None:
    sound: dict[str, dict[str, object]] = {
        "d8225": {**SIZES, "test_temperature_c": 25.0, "rate_mm_per_min": 50.0, "air_voids_stated_pct": 7.0},
        "t393": {**HALF_DISC, "test_temperature_c": 25.0, "rate_mm_per_min": 50.0},
        "t245": {"specimen_diameter_mm": 101.6, "specimen_thickness_mm": 63.5, "soak_time_min": 35.0},
        "t283": {
            "specimen_diameter_mm": 150.0,
            "specimen_thickness_mm": 95.0,
            "air_voids_stated_pct": 7.0,
            "freeze_time_min": 960.0,
            "thaw_time_min": 1440.0,
            "conditioning": prop.rpartition("_")[2] if method == "t283" else None,
        },
    }
    ways, loads = bell()
    assert flags(one(figures(method, ways, loads, **sound[method]), prop)) <= {"volume_at_bracket_edge"}
    assert code in flags(one(figures(method, ways, loads, **sound[method] | given), prop))


def test_the_rate_is_taken_from_the_trace_whatever_the_frame_was_set_to() -> None:
    ways, loads = bell()
    found = figures("d8225", ways, loads, rate=44.0, rate_mm_per_min=50.0, **SIZES)
    assert flags(one(found, "ct_index")) == {"test_conditions_off"}
    found = figures("d8225", ways, loads, rate=50.4, rate_mm_per_min=50.0, **SIZES)
    assert flags(one(found, "ct_index")) == set()


def test_groups_that_differ_in_voids_flag_the_ratio() -> None:
    rows = [
        broken("t283", f"{state}{number}", conditioning=state, air_voids_stated_pct=voids, peak_load_stated_n=2e4,
               specimen_diameter_mm=150.0, specimen_thickness_mm=95.0)
        for state, voids in (("dry", 6.7), ("conditioned", 7.3))
        for number in range(3)
    ]  # fmt: skip
    row = one(values(load_test=rows), "tsr", "sample")
    assert row["value"] == pytest.approx(1.0)
    assert flags(row) == {"groups_voids_differ"}


def test_fewer_than_three_specimens_are_flagged_and_a_group_alone_has_no_ratio() -> None:
    sizes = {"specimen_diameter_mm": 150.0, "specimen_thickness_mm": 95.0, "peak_load_stated_n": 2e4}
    found = values(load_test=[broken("t283", conditioning="conditioned", **sizes)])
    assert flags(one(found, "tensile_strength_conditioned", "sample")) == {"too_few_specimens"}
    row = one(found, "tsr", "sample")
    assert row["value"] is None
    assert row["withheld"] == "S1 missing"


def test_choices_of_the_settings_hold_together() -> None:
    with pytest.raises(SettingsError, match="saturation_low_pct: expected less than saturation_high_pct"):
        Results(saturation_low_pct=85)
    with pytest.raises(SettingsError, match="inflection_fit_degree: expected 3 to 9, found 2"):
        Results(inflection_fit_degree=2)


def test_a_batch_gives_what_each_trace_gives_alone() -> None:
    """Whole batches at a time: neighbours must not leak into each other."""
    shapes = [bell(peak=12e3 + 500 * number, at=2.5 + 0.1 * number, tail=1.5 + 0.1 * number) for number in range(5)]
    headers = [broken("t393", str(number), **HALF_DISC) for number in range(5)]
    rows = [trace(header, *shape) for header, shape in zip(headers, shapes, strict=True)]
    names = ("flexibility_index", "inflection_slope", "peak_load", "work_of_failure")
    together = values(load_test=headers, load_point=[point for each in reversed(rows) for point in each])
    for header, points in zip(headers, rows, strict=True):
        alone = values(load_test=[header], load_point=points)
        for name in names:
            ours = one(together, name, specimen_no=header["specimen_no"])["value"]
            assert ours == pytest.approx(float(one(alone, name)["value"]), rel=1e-12)  # type: ignore[arg-type]
