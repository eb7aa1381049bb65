"""Aggregate samples: records -> gravities, gradation and its sizes, consensus properties; what is missing says so."""

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.compute import compute
from pipeline.derive import Derived, Inputs, derive
from pipeline.formulas.minimum_mass import LADDERS
from pipeline.formulas.nominal_size import SERIES, sizes
from pipeline.formulas.r35_series import interpolated
from pipeline.formulas.t27 import capacity
from pipeline.settings import Results, SettingsError
from pipeline.validation.records import design, frame, measured, retained, sample, weighed

Rows = list[dict[str, object]]
COARSE = weighed("t85", dry=3862.1, ssd=3923.4, submerged=2452.1)
FINE = weighed("t84", dry=495.5, ssd=500.0, container_water=623.0, container_sample_water=938.2)
#: A sand and stone whose nominal size is 12.5 mm: 100, 95, 60, 20, 5 % passing 19 … 0.075 mm.
SIEVED = weighed("t27", before_wash=2000.0, after_wash=1905.0) + retained(
    {19.0: 0.0, 12.5: 100.0, 9.5: 300.0, 4.75: 400.0, 2.36: 800.0, 0.075: 300.0, 0.0: 5.0}, method="t27"
)


def figures(weighing: Rows, choices: Results | None = None, dimension: Rows | None = None) -> Derived:
    made = {
        "sample": [sample(material="aggregate")],
        "mix_design": [design()],
        "weighing": weighing,
        "dimension": dimension or [],
    }
    return derive(Inputs.of(**{name: frame(name, rows) for name, rows in made.items()}), choices)


def one(result: Derived, prop: str, level: str = "sample", **where: object) -> dict[str, object]:
    wanted = {"property": prop, "level": level} | where
    (row,) = result.property_values.filter(*(pl.col(name) == each for name, each in wanted.items())).to_dicts()
    return row


def test_coarse_and_fine_make_the_gravity_of_the_whole() -> None:
    # 40 % passes 4.75 mm after washing: the textbook problem's Gsb 2.625 and 2.681 by the harmonic mean.
    result = figures(COARSE + FINE + SIEVED)
    assert one(result, "passing", point=4.75)["value"] == pytest.approx(60.0)
    gsb = 100 / (40 / (3862.1 / (3923.4 - 2452.1)) + 60 / (495.5 / (623.0 + 500.0 - 938.2)))
    assert one(result, "aggregate_gsb")["value"] == pytest.approx(gsb, rel=1e-12)
    assert one(result, "aggregate_absorption")["value"] == pytest.approx(0.4 * 1.5872 + 0.6 * 0.9082, abs=1e-3)


def test_gravity_without_the_other_fraction_says_which() -> None:
    assert one(figures(COARSE + SIEVED), "aggregate_gsb")["withheld"] == "Gsb fine missing"
    reason = "passing 4.75 mm missing: no T 27 or T 30 result of this sample at that sieve"
    assert one(figures(COARSE + FINE), "aggregate_gsb")["withheld"] == reason


def test_sand_alone_needs_no_coarse_gravity() -> None:
    sand = weighed("t27", dry=500.0) + retained({9.5: 0.0, 4.75: 0.0, 2.36: 100.0, 0.0: 400.0}, method="t27")
    row = one(figures(FINE + sand), "aggregate_gsb")
    assert (row["route"], row["value"]) == ("fine_only", pytest.approx(2.681, abs=5e-4))


def test_a_missing_weighing_of_the_pycnometer_is_the_reason() -> None:
    row = one(figures(FINE[:-1]), "gsb_fine", "specimen")
    assert row["value"] is None
    assert "role 'container_sample_water'" in str(row["withheld"])


def test_masses_of_a_pycnometer_that_contradict_are_withheld_and_listed() -> None:
    result = figures(weighed("t84", dry=501.0, ssd=500.0, container_water=623.0, container_sample_water=938.2))
    assert one(result, "gsb_fine", "specimen")["flags"] == "masses_out_of_order"
    assert result.contradictions.height == 4


def test_a_warm_bath_and_a_small_portion_are_flagged() -> None:
    warm = [row | {"water_temperature_c": 25.0} for row in COARSE]
    assert one(figures(warm), "gsb_coarse")["flags"] == "bath_temperature_off"
    small = weighed("t84", dry=445.5, ssd=450.0, container_water=623.0, container_sample_water=905.0)
    assert one(figures(small), "gsb_fine")["flags"] == "test_portion_off"
    little = weighed("t85", dry=1034.0, ssd=1048.9, submerged=675.6)
    assert one(figures(little + SIEVED), "gsb_coarse")["flags"] == "test_portion_off"


def test_sizes_by_every_named_definition() -> None:
    found = {
        word: [one(figures(SIEVED, Results(nominal_size=word)), name)["value"] for name in ("nmas", "maximum_size")]
        for word in ("ten_percent", "one_percent", "below_maximum")
    }
    assert found == {"ten_percent": [12.5, 19.0], "one_percent": [12.5, 19.0], "below_maximum": [12.5, 19.0]}
    assert '"nominal_size": "one_percent"' in str(
        one(figures(SIEVED, Results(nominal_size="one_percent")), "nmas")["parameters"]
    )


def test_a_size_that_cannot_be_told_says_why() -> None:
    gap = weighed("t27", dry=1000.0) + retained({19.0: 0.0, 12.5: 50.0, 4.75: 500.0, 0.0: 450.0}, method="t27")
    row = one(figures(gap), "nmas")
    assert row["value"] is None
    assert row["withheld"] == "no result at 9.5 mm: whether it retains more than 10 % cannot be told"
    powder = weighed("t27", dry=500.0) + retained({0.15: 0.0, 0.075: 10.0, 0.0: 490.0}, method="t27")
    assert one(figures(powder), "nmas")["withheld"] == "no sieve of the series retains more than 10 %"


def test_every_series_sieve_may_be_the_first_over_the_limit() -> None:
    for place in range(1, len(SERIES)):
        passing = [pl.lit(100.0)] * place + [pl.lit(80.0)] * (len(SERIES) - place)
        assert pl.select(sizes(passing, "ten_percent").nominal).item() == SERIES[place - 1]


def test_fineness_modulus_of_a_sand_and_why_stone_has_none() -> None:
    passing = {9.5: 100, 4.75: 100, 2.36: 87, 1.18: 69, 0.6: 44, 0.3: 18, 0.15: 4}
    levels = [100, *passing.values()]
    masses = {sieve: (levels[at] - each) * 5.0 for at, (sieve, each) in enumerate(passing.items())}
    result = figures(weighed("t27", dry=500.0) + retained(masses | {0.0: 20.0}, method="t27"))
    assert one(result, "fineness_modulus")["value"] == pytest.approx(2.78)
    stone = weighed("t27", dry=5000.0) + retained(
        {4.75: 3000.0, 2.36: 500.0, 1.18: 500.0, 0.6: 300.0, 0.3: 200.0, 0.15: 100.0, 0.0: 400.0}, method="t27"
    )
    assert "is missing though something is retained" in str(one(figures(stone), "fineness_modulus")["withheld"])


def test_too_little_and_overloaded_sieves_are_flagged() -> None:
    assert one(figures(SIEVED), "passing", point=4.75)["flags"] is None
    halved = [row | {"mass_g": float(str(row["mass_g"])) / 2} for row in SIEVED]
    assert one(figures(halved), "passing", point=4.75)["flags"] == "test_portion_off"
    narrow = one(figures(SIEVED, Results(sieve_frame_mm=203)), "passing", point=2.36)
    assert narrow["flags"] == "sieve_overloaded"


def test_a_fine_sieve_of_203_mm_holds_about_200_g() -> None:
    # AASHTO T 27: 7 kg/m² is about 200 g on a 203 mm sieve.
    assert pl.select(capacity(pl.lit(0.6), pl.lit(203.0))).item() == pytest.approx(200, abs=1)


def test_lost_in_sieving_above_the_limit_is_flagged() -> None:
    lost = [row | {"mass_g": 290.0} if row.get("sieve_mm") == 0.075 else row for row in SIEVED]
    assert one(figures(lost), "passing", point=4.75)["flags"] == "sieving_loss_above_t27_limit"
    assert one(figures(lost), "sieving_loss", "specimen")["value"] == pytest.approx(100 * 10 / 1905)


def test_washed_out_fines() -> None:
    assert one(figures(SIEVED), "washed_fines")["value"] == pytest.approx(4.75)


CALIBRATION = weighed("t304", specimen_no="cal", measure_plate=300.0, measure_plate_water=399.55)


def _run(number: str, mass: float) -> Rows:
    return weighed("t304", specimen_no=number, measure=200.0, measure_sample=200.0 + mass)


def test_uncompacted_voids_of_two_runs_with_one_calibration() -> None:
    tempered = [row | {"water_temperature_c": 23.0} for row in CALIBRATION]
    result = figures(FINE + tempered + _run("1", 146.2) + _run("2", 146.8))
    volume = 1000 * 99.55 / 997.538
    gsb = 495.5 / (623.0 + 500.0 - 938.2)
    wanted = 100 * (volume - 146.5 / gsb) / volume
    row = one(result, "uncompacted_voids")
    assert row["value"] == pytest.approx(wanted, abs=1e-3)
    assert row["n"] == 2
    assert row["parameters"] == '{"uncompacted_voids_grading": "A"}'


def test_uncompacted_voids_say_what_is_missing_and_flag_a_single_run() -> None:
    row = one(figures(FINE + _run("1", 146.2)), "uncompacted_voids")
    assert row["withheld"] == "volume of the measure missing: no weighings with and without water"
    assert one(figures(CALIBRATION + _run("1", 146.2)), "uncompacted_voids")["withheld"] == "Gsb fine missing"
    flags = str(one(figures(FINE + CALIBRATION + _run("1", 146.2)), "uncompacted_voids")["flags"])
    assert "too_few_specimens" in flags


def test_fractured_faces_with_and_without_questionable_particles() -> None:
    faces = weighed("t335", fractured=725.1, questionable=95.5, not_fractured=14.7)
    assert one(figures(faces), "fractured_one")["value"] == pytest.approx(92.52, abs=0.005)
    plain = weighed("t335", fractured=900.0, not_fractured=100.0, fractured_two=700.0, not_fractured_two=300.0)
    assert one(figures(plain), "fractured_one")["value"] == pytest.approx(90.0)
    assert one(figures(plain), "fractured_two")["value"] == pytest.approx(70.0)
    lacking = one(figures(weighed("t335", fractured=900.0)), "fractured_one")
    assert "role 'not_fractured'" in str(lacking["withheld"])


def test_too_many_questionable_and_too_small_a_portion_for_the_size_are_flagged() -> None:
    doubtful = weighed("t335", fractured=700.0, questionable=160.0, not_fractured=140.0)
    assert one(figures(doubtful), "fractured_one")["flags"] == "questionable_above_limit"
    small = weighed("t335", fractured=400.0, not_fractured=100.0)
    assert one(figures(small + SIEVED), "fractured_one")["flags"] == "test_portion_off"


def test_sand_equivalent_is_raised_run_by_run_and_again_as_mean() -> None:
    runs = [
        row
        for number, (sand, clay) in enumerate(((41.2, 100.0), (43.8, 100.0), (40.9, 100.0)), start=1)
        for row in measured("t176", specimen_no=str(number), sand=sand, clay=clay)
    ]
    result = figures([], dimension=runs)
    assert one(result, "sand_equivalent_mean")["value"] == pytest.approx(127 / 3)
    assert one(result, "sand_equivalent")["value"] == 43
    half = one(figures([], dimension=runs[:1]), "sand_equivalent", "specimen")
    assert half["withheld"] == "mean reading of the clay missing (role 'clay')"


def _shapes(masses: dict[float, tuple[float, float]]) -> Rows:
    whole = retained({sieve: each[0] for sieve, each in masses.items()}, method="d4791", role="particles")
    bad = retained({sieve: each[1] for sieve, each in masses.items()}, method="d4791", role="flat_elongated")
    return whole + bad


def test_shape_is_weighted_by_the_gradation_and_small_sizes_take_their_neighbours() -> None:
    # Retained: 12.5 mm 5 % (not examined, below 10 %), 9.5 mm 15 %, 4.75 mm 20 %.
    result = figures(SIEVED + _shapes({9.5: (200.0, 8.0), 4.75: (100.0, 10.0)}))
    assert one(result, "flat_elongated", "specimen", point=9.5)["value"] == pytest.approx(4.0)
    row = one(result, "flat_elongated_weighted")
    assert row["value"] == pytest.approx((5 * 4 + 15 * 4 + 20 * 10) / 40)
    assert '"flat_elongated_ratio": "5:1"' in str(row["parameters"])
    between = figures(SIEVED + _shapes({12.5: (100.0, 2.0), 4.75: (100.0, 10.0)}), Results(small_fraction_pct=16))
    assert one(between, "flat_elongated_weighted")["value"] == pytest.approx((5 * 2 + 15 * 6 + 20 * 10) / 40)


def test_shape_without_gradation_or_with_a_large_size_left_out_says_so() -> None:
    alone = one(figures(_shapes({9.5: (200.0, 8.0)})), "flat_elongated_weighted")
    assert alone["withheld"] == "gradation of the sample missing: no T 27 result to weight the sizes by"
    gap = one(figures(SIEVED + _shapes({12.5: (100.0, 2.0), 4.75: (100.0, 10.0)})), "flat_elongated_weighted")
    assert gap["withheld"] == "sizes not examined though they hold their share of the sample: 9.5 mm (15.0 %)"


def test_more_of_a_shape_than_of_the_size_is_listed_as_contradiction() -> None:
    result = figures(SIEVED + _shapes({9.5: (200.0, 208.0)}))
    assert one(result, "flat_elongated", "specimen")["value"] is None
    assert set(result.contradictions["found"]) == {"200.0 g (particles)", "208.0 g (flat_elongated)"}


@pytest.mark.parametrize("wrong", [{"sieve_frame_mm": 250}, {"surface_area_factors": (0.4, 0.4)}])
def test_settings_that_cannot_be_are_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(SettingsError, match=next(iter(wrong))):
        Results(**wrong)  # type: ignore[arg-type]


def test_ladders_rise_with_the_size() -> None:
    for ladder in LADDERS.values():
        assert list(ladder) == sorted(ladder)
        assert list(ladder.values()) == sorted(ladder.values())


@given(st.lists(st.floats(0.5, 12.0), min_size=3, max_size=6, unique=True), st.floats(0.5, 12.0))
def test_interpolation_agrees_with_a_general_library(voids: list[float], target: float) -> None:
    voids = sorted(voids)
    contents = [5.0 + 0.5 * step for step in range(len(voids))]
    found = pl.select(interpolated([pl.lit(v) for v in voids], [pl.lit(c) for c in contents], pl.lit(target))).item()
    if voids[0] <= target <= voids[-1]:
        assert found == pytest.approx(float(np.interp(target, voids, contents)), rel=1e-9)
    else:
        assert found is None


@given(st.floats(2.4, 2.8), st.floats(0.1, 4.0))
def test_absorption_follows_from_the_two_gravities(gsb: float, absorbed: float) -> None:
    # T 85: absorption = 100 (1/Gsb - 1/Gsa), whatever the masses.
    dry = 2000.0
    ssd = dry * (1 + absorbed / 100)
    masses = {"mass_dry": dry, "mass_ssd": ssd, "mass_submerged": ssd - dry / gsb}
    bulk, apparent = (compute(name, masses).value for name in ("gsb_coarse", "gsa_coarse"))
    assert 100 * (1 / bulk - 1 / apparent) == pytest.approx(absorbed, rel=1e-6)
    assert apparent >= compute("gsb_ssd_coarse", masses).value >= bulk
