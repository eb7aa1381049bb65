"""Impact and kneading compaction: density after every step by both routes, and the limits of the compaction."""

import math

import pytest

from pipeline.derive import Derived, Inputs, derive
from pipeline.validation.records import design, frame, of_gmm, sample, weighed

Row = dict[str, object]
SERIES = {10: 70.0, 50: 64.5, 75: 63.5}
MOULD, MASS, GMB, GMM = 101.6, 1200.0, 2.4, 2.5


def figures(method: str = "t245", series: dict[int, float] | None = None, **given: object) -> Derived:
    """Derive one compacted and weighed specimen of sample S1."""
    key: Row = {"sample_id": "S1", "specimen_no": "1", "method": method}
    run = {**key, "steps": 75, "mass_g": MASS, "mould_diameter_mm": MOULD, **given}
    heights = [{**key, "step": at, "height_mm": height} for at, height in (series or SERIES).items()]
    masses = weighed(method, dry=GMB * 500, ssd=GMB * 500, submerged=GMB * 500 - 500)
    made = {"sample": [sample()], "mix_design": [design()], "weighing": masses + of_gmm(GMM)}
    made |= {"impact_run": [run], "impact_height": heights}
    return derive(Inputs.of(**{name: frame(name, rows) for name, rows in made.items()}))


@pytest.mark.parametrize("method", ["t245", "t247"])
def test_density_after_each_step_by_both_routes(method: str) -> None:
    """The correction by a factor and the one by heights are one: mass, mould and water cancel."""
    found = figures(method).step_density
    assert found["step"].to_list() == list(SERIES)
    estimated = [MASS / (math.pi / 4 * MOULD**2 * height / 1000) for height in SERIES.values()]
    assert found["gmb_estimated"].to_list() == pytest.approx(estimated, rel=1e-12)
    factor = GMB / estimated[-1]
    assert found["gmb_corrected"].to_list() == pytest.approx([factor * each for each in estimated], rel=1e-12)
    assert found["gmm_pct"].to_list() == pytest.approx([100 * factor * each / GMM for each in estimated], rel=1e-12)
    assert (found["gmm_pct"] + found["air_voids_pct"]).to_list() == pytest.approx([100.0] * 3, rel=1e-12)


def row(result: Derived, prop: str) -> Row:
    (found,) = (each for each in result.property_values.to_dicts() if each["property"] == prop)
    return found


@pytest.mark.parametrize(
    ("given", "series", "flag"),
    [
        ({"hammer_mass_g": 4536.0, "drop_mm": 457.2}, SERIES, None),
        ({"hammer_mass_g": 4600.0}, SERIES, "compaction_off"),
        ({"drop_mm": 450.0}, SERIES, "compaction_off"),
        ({"steps": 60}, {60: 63.5}, "compaction_off"),
        ({}, {75: 66.0}, "compaction_off"),
        ({}, {10: 63.0, 75: 63.5}, "height_rises"),
    ],
)
def test_limits_of_the_hammer(given: Row, series: dict[int, float], flag: str | None) -> None:
    assert row(figures("t245", series, **given), "compacted_height")["flags"] == flag


def test_a_series_that_ends_early_says_so() -> None:
    found = figures(series={10: 70.0, 50: 64.5})
    held = row(found, "compacted_height")
    assert (held["value"], held["withheld"]) == (None, "height after step 75 missing: the heights end at 50")
    assert found.step_density["gmb_corrected"].to_list() == [None, None]
    assert found.step_density["gmb_estimated"].null_count() == 0
