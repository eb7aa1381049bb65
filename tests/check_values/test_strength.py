"""Strength, stability and cracking: published tables and examples against tables, identities and whole traces."""

import math
from itertools import pairwise

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.compute import compute
from pipeline.derive import Inputs, derive
from pipeline.formulas.t245 import correlation
from pipeline.settings import Results
from pipeline.validation.records import design, frame, of_gmm, sample, weighed
from schemas.units import conversion
from tests.check_values.examples import entries
from tests.check_values.load_records import broken, one, trace, values

#: Published units in stored ones.
POUND, INCH, PSI = (conversion(given, stored)[0] for given, stored in (("lbf", "N"), ("in", "mm"), ("psi", "kPa")))


def test_saturation_through_records() -> None:
    """The constructed example of check values EX-SAT, weighed."""
    (entry,) = (each for each in entries("example") if each["id"] == "EX-SAT")
    masses = {name.removeprefix("mass_"): mass for name, mass in entry["inputs"].items() if name.startswith("mass_")}
    header = broken("t283", conditioning="conditioned", peak_load_stated_n=20000.0)
    found = values(load_test=[header], weighing=[*weighed("t283", **masses), *of_gmm(entry["inputs"]["gmm"])])
    row = one(found, "saturation")
    assert row["value"] == pytest.approx(entry["published"], abs=entry["tolerance"])
    assert row["parameters"] == '{"saturation_high_pct": 80, "saturation_low_pct": 70}'
    assert "gmb" not in found["property"].to_list()  # strength specimens never become volumetric ones


def test_saturation_outside_its_window_flags_the_strength_by_the_window_chosen() -> None:
    """65 % is too little for 70-80 % (T 283) and enough for 55-80 % (D4867); both limits are from memory."""
    volume, voids = 1622.0, 7.0
    taken_up = 0.65 * volume * voids / 100
    header = broken("t283", conditioning="conditioned", peak_load_stated_n=2e4, air_voids_stated_pct=voids)
    sized = header | {"specimen_diameter_mm": 150.0, "specimen_thickness_mm": 95.0}
    weighings = [
        *weighed("t283", dry=3800.0, ssd=3812.0, submerged=3812.0 - volume, saturated=3800.0 + taken_up),
        *of_gmm(3800.0 / volume / (1 - voids / 100)),
    ]
    strict = one(values(load_test=[sized], weighing=weighings), "tensile_strength_conditioned")
    assert strict["flags"] == "saturation_off"
    loose = values(Results(saturation_low_pct=55), load_test=[sized], weighing=weighings)
    assert one(loose, "saturation")["value"] == pytest.approx(65.0, abs=1e-9)
    assert one(loose, "tensile_strength_conditioned")["flags"] is None


def test_a_saturated_specimen_lighter_than_dry_is_a_contradiction() -> None:
    weighings = weighed("t283", dry=3800.0, ssd=3812.0, submerged=2190.0, saturated=3790.0)
    made = {"sample": [sample()], "mix_design": [design()], "weighing": weighings}
    derived = derive(Inputs.of(**{record: frame(record, each) for record, each in made.items()}))
    row = one(derived.property_values, "saturation")
    assert row["value"] is None
    assert "the masses contradict each other (saturated >= dry)" in str(row["withheld"])
    assert set(derived.contradictions["found"]) == {"3800.0 g (dry)", "3790.0 g (saturated)"}


@given(st.floats(1e3, 1e5), st.floats(40.0, 110.0), st.floats(95.0, 155.0))
def test_both_forms_of_the_strength_agree(load: float, thickness: float, diameter: float) -> None:
    # T 283 in N and mm gives kPa; D6931 in lb and inches gives psi: 2 P / (π t D).
    metric = compute("tensile_strength", peak_load=load, specimen_thickness=thickness, specimen_diameter=diameter)
    pounds, inch = load / POUND, INCH
    psi = 2 * pounds / (math.pi * thickness / inch * diameter / inch)
    assert metric.value == pytest.approx(psi * PSI, rel=1e-9)


def test_published_strength_in_psi() -> None:
    """195.82 psi: recomputed from the published load of the open data set named in t283.toml."""
    done = compute("tensile_strength", peak_load=20329.77, specimen_thickness=62.9, specimen_diameter=152.4)
    assert done.value / PSI == pytest.approx(195.82, abs=0.005)


def volume_of(thickness: float) -> float:
    """Return the volume in cm³ that belongs to a thickness in mm at 101.6 mm (MS-2, table 5.1, note 2)."""
    return math.pi / 4 * 10.16**2 * thickness / 10


def test_correlation_table_is_whole_and_fits_its_thicknesses() -> None:
    rows = correlation()
    assert len(rows) == 33
    assert (rows[0][0], rows[-1][1]) == (200, 625)
    for (_, high, _, ratio), (low, _, _, smaller) in pairwise(rows):
        assert low == high + 1
        assert smaller < ratio
    for low, high, thickness, _ in rows:
        assert low - 0.5 <= volume_of(thickness) <= high + 0.5


def test_ratio_comes_by_thickness_where_nothing_was_weighed() -> None:
    """MS-2 table 5.1 serves both: 63.5 mm at 101.6 mm has the ratio 1.00."""
    sizes = {"specimen_thickness_mm": 63.5, "specimen_diameter_mm": 101.6, "peak_load_stated_n": 10600.0}
    found = values(load_test=[broken("t245", **sizes)])
    assert one(found, "marshall_stability")["value"] == pytest.approx(10.60, abs=1e-9)
    assert one(found, "specimen_volume")["route"] == "measured"


def test_half_a_cubic_centimetre_from_two_weighings_is_a_half() -> None:
    """1100.4 - 591.9 is 508.5 on the balance, though a trace more in binary arithmetic: E29 takes 508."""
    masses = {"dry": 1098.0, "ssd": 1100.4, "submerged": 591.9}
    assert masses["ssd"] - masses["submerged"] > 508.5
    header = broken("t245", peak_load_stated_n=10600.0)
    row = one(values(load_test=[header], weighing=weighed("t245", **masses)), "marshall_stability")
    assert row["value"] == pytest.approx(11.024, abs=1e-9)
    assert row["flags"] == "volume_at_bracket_edge"


def test_stability_outside_the_table_has_a_reason_and_no_number() -> None:
    header = broken("t245", peak_load_stated_n=10600.0)
    weighings = weighed("t245", dry=1500.0, ssd=1501.0, submerged=850.0)
    row = one(values(load_test=[header], weighing=weighings), "marshall_stability")
    assert row["value"] is None
    assert "published for other volumes only" in str(row["withheld"])


def test_published_points_of_a_trace_give_its_index() -> None:
    """A trace through the published points of EX-CT rep 1 has their slope and 75 % displacement."""
    (entry,) = (each for each in entries("example") if each["id"] == "EX-CT rep 1")
    known, peak = entry["inputs"], 20329.7734
    ways = [0.0, 3.51608, known["displacement_85"], known["displacement_75"], known["displacement_65"], 12.0]
    loads = [0.0, peak, known["load_85"], 0.75 * peak, known["load_65"], 90.0]
    header = broken("d8225", specimen_thickness_mm=62.9, specimen_diameter_mm=152.4)
    found = values(load_test=[header], load_point=trace(header, ways, loads))
    slope = compute("post_peak_slope", known).value
    assert one(found, "post_peak_slope")["value"] == pytest.approx(slope, rel=1e-7)
    index = compute("ct_index", known).value * float(one(found, "work_of_failure")["value"]) / known["work_of_failure"]  # type: ignore[arg-type]
    assert one(found, "ct_index")["value"] == pytest.approx(index, rel=1e-7)


def test_hveem_and_shear_through_records() -> None:
    """EX-HV-45 with its pressure in kPa, and EX-RT with both factors."""
    squeezed = broken("t246", horizontal_pressure_kpa=45 * PSI, displacement_turns=2.8, specimen_thickness_mm=64.0)
    sheared = broken("d8360", peak_load_stated_n=5421.99268, specimen_thickness_mm=62.1)
    found = values(load_test=[squeezed, sheared])
    assert one(found, "stabilometer_value")["value"] == pytest.approx(38.48, abs=0.005)
    assert one(found, "rapid_shear_index")["value"] == pytest.approx(107.70, abs=0.005)
    assert '"shear_factor": 0.356' in str(one(found, "rapid_shear_index")["parameters"])
    published = values(Results(shear_factor=0.365), load_test=[sheared])
    assert one(published, "rapid_shear_index")["value"] == pytest.approx(110.42149, abs=1e-4)


def test_flexibility_through_records() -> None:
    """EX-FI: a cosine after the peak has its inflection where it is steepest, at half the load."""
    peak, tail = 4000.0, 3.0
    fine = [number / 200 for number in range(601)]
    ways = [0.0, *(1.0 + tail * each / 3 for each in fine)]
    loads = [0.0, *(peak / 2 * (1 + math.cos(math.pi * each / 3)) for each in fine)]
    header = broken("t393", specimen_thickness_mm=50.0, specimen_diameter_mm=150.0, notch_mm=15.0)
    found = values(load_test=[header], load_point=trace(header, ways, loads))
    steepest = peak / 1000 / 2 * math.pi / tail
    assert one(found, "inflection_slope")["value"] == pytest.approx(steepest, rel=2e-3)
    energy = one(found, "fracture_energy_notched")["value"]
    # Area of the triangle and of the half cosine: both half of base times height; the end load cuts off little.
    assert energy == pytest.approx((peak / 2 + peak * tail / 2) / 1000 / 3000 * 1e6, rel=5e-3)
    assert one(found, "flexibility_index")["value"] == pytest.approx(0.01 * float(energy) / steepest, rel=2e-3)  # type: ignore[arg-type]


def test_strength_specimens_of_several_methods_keep_apart() -> None:
    """Specimen 1 of each method is another specimen."""
    headers = [
        broken(method, peak_load_stated_n=load, specimen_thickness_mm=62.0, specimen_diameter_mm=150.0)
        for method, load in (("t283", 1000.0), ("t245", 2000.0), ("d8360", 3000.0))
    ]
    peaks = values(load_test=headers).filter(pl.col("property") == "peak_load").sort("value")
    assert peaks.select("method", "value").rows() == [("t283", 1000.0), ("t245", 2000.0), ("d8360", 3000.0)]
