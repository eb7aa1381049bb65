"""Heights of gyratory compaction -> slope, locking point, densification indices."""

import json

import pytest

from pipeline.derive import Derived, Inputs, derive
from pipeline.settings import Results, SettingsError
from pipeline.validation.records import design, frame, of_gmb, of_gmm, sample
from tests.unit.pipeline.derive.test_derive import heights, one, press

DESIGN = {"gb": 1.03, "gsb": 2.703, "pb_pct": 5.3, "n_initial": 8, "n_design": 100, "n_maximum": 160}
#: Heights 0.1 mm apart, with runs of equal ones: two at 4, two at 7, two at 9, three at 11, two at 15, three at 17.
LEVELS = [120.0, 118.0, 117.0, 116.0, 116.0, 115.5, 115.2, 115.2, 115.0, 115.0, 114.9, 114.9, 114.9, 114.8]
LEVELS += [114.7, 114.7, 114.6, 114.6, 114.6]


def pressed(series: dict[int, float], choices: Results | None = None, gmb: float = 2.44, gmm: float = 2.5) -> Derived:
    """Derive the figures of one compacted specimen."""
    made = {
        "sample": [sample()],
        "mix_design": [design(**DESIGN)],
        "weighing": of_gmb(gmb) + of_gmm(gmm),
        "compaction_run": [press("1", max(series))],
        "compaction_height": heights("1", series),
    }
    return derive(Inputs.of(**{name: frame(name, rows) for name, rows in made.items()}), choices)


@pytest.mark.parametrize(("definition", "gyration"), [("2-1", 4), ("2-2", 7), ("2-3", 9), ("3-2", 11), ("3-2-2", 11)])
def test_locking_point_by_each_definition(definition: str, gyration: int) -> None:
    """The definitions as the reference words them (from memory: Vavrik and Carpenter; NCHRP 573)."""
    result = pressed(dict(enumerate(LEVELS, start=1)), Results(locking_point=definition))
    row = one(result, "locking_point")
    assert row["value"] == gyration
    assert json.loads(str(row["parameters"])) == {"locking_point": definition}


def test_pairs_must_come_right_before_the_three() -> None:
    apart = dict(enumerate([*LEVELS[:8], 115.1, *LEVELS[8:]], start=1))
    assert one(pressed(apart), "locking_point")["value"] is None
    assert one(pressed(apart), "locking_point")["withheld"] == (
        "no locking point by definition 3-2-2 within 20 gyrations"
    )
    # Noise below the recorded tenth of a millimetre does not part equal heights.
    noisy = {at: height + 1e-9 * at for at, height in enumerate(LEVELS, start=1)}
    assert one(pressed(noisy), "locking_point")["value"] == 11


def test_a_definition_nobody_knows() -> None:
    with pytest.raises(SettingsError, match="locking_point: expected one of 2-1, 2-2, 2-3, 3-2, 3-2-2, found '4-1'"):
        Results(locking_point="4-1")


def test_slope_of_compaction() -> None:
    # Heights and slope of the synthetic identity ID-T312-2.
    row = one(pressed({8: 127.0, 100: 115.2, 160: 113.3}), "compaction_slope")
    assert row["value"] == pytest.approx(8.13, abs=0.005)


def straight(rate: float, last: int, first: float = 86.0) -> dict[int, float]:
    """Return heights whose density rises by so many % of Gmm a gyration, ending at 97.6 %."""
    final = 100.0
    top = first + rate * last
    return {at: final * top / (first + rate * at) for at in range(1, last + 1)}


def test_densification_indices_of_a_straight_curve() -> None:
    """Density D = 86 + 0.1 N: triangles above the start, trapezia down to zero."""
    series = straight(0.1, 130)
    top = 86 + 13.0
    above = pressed(series, gmb=0.025 * top)
    # From N = 8 (86.8 %) to 92 % at N = 60, and on to 98 % at N = 120.
    construction = one(above, "construction_densification_index")
    assert construction["value"] == pytest.approx(52 * 5.2 / 2)
    assert one(above, "traffic_densification_index")["value"] == pytest.approx(60 * 6 / 2)
    told = json.loads(str(one(above, "construction_densification_index", "specimen")["parameters"]))
    assert (told["construction_from"], told["construction_to"], told["densification_ordinate"]) == (8, 60, "start")
    zero = pressed(series, Results(densification_ordinate="zero"), gmb=0.025 * top)
    assert one(zero, "construction_densification_index")["value"] == pytest.approx(52 * (86.8 + 92) / 2)
    assert one(zero, "traffic_densification_index")["value"] == pytest.approx(60 * (92 + 98) / 2)


def test_traffic_index_ends_with_the_test_and_says_where() -> None:
    series = straight(0.1, 100)
    row = one(pressed(series, gmb=0.025 * 96), "traffic_densification_index", "specimen")
    assert row["value"] == pytest.approx(40 * 4 / 2)
    assert json.loads(str(row["parameters"]))["traffic_to"] == 100


def test_indices_that_cannot_be_told_have_a_reason() -> None:
    short = pressed(straight(0.1, 50), gmb=0.025 * 91)
    for name in ("construction", "traffic"):
        row = one(short, f"{name}_densification_index")
        assert (row["value"], row["withheld"]) == (None, "92 % of Gmm not reached in 50 gyrations")
    quick = pressed({at: height for at, height in straight(2, 10).items()}, gmb=0.025 * 106)
    assert str(one(quick, "construction_densification_index")["withheld"]).startswith("92 % of Gmm reached before")
