"""The season is physically plausible: figures computed here from the exports keep published limits."""

import re
import sqlite3
import tomllib
from collections import defaultdict
from collections.abc import Iterable
from contextlib import closing
from itertools import pairwise
from pathlib import Path
from statistics import mean
from typing import Any

import pytest

from tests.scenario.plan import Sample, plan

Weighings = dict[tuple[str, str, str], dict[str, Any]]

EXPORTS = Path(__file__).parents[3] / "sample_exports"
LIMITS = tomllib.loads((Path(__file__).parent / "plausible.toml").read_text(encoding="utf-8"))
SAMPLES: dict[str, Sample] = {sample.label: sample for sample in plan().samples}


def _outside(name: str, values: Iterable[tuple[object, float]]) -> dict[object, float]:
    """Return what lies outside the limit of that name."""
    limit = LIMITS[name]
    low, high = limit.get("at_least", float("-inf")), limit.get("at_most", float("inf"))
    return {key: value for key, value in values if not low <= value <= high}


def _water_ratio(celsius: float) -> float:
    """Return the density of water relative to 25 °C, linear between the published degrees."""
    table = LIMITS["water_ratio"]["at"]
    below = int(celsius)
    low, high = table[str(below)], table[str(below + 1)]
    return float(low + (celsius - below) * (high - low))


def _troubled(troubles: list[dict[str, Any]], *kinds: str) -> set[tuple[str, str]]:
    return {(one["sample"], one["piece"]) for one in troubles if one["kind"] in kinds}


@pytest.fixture(scope="module")
def bulks(weighings: Weighings) -> dict[tuple[str, str], dict[str, float]]:
    """(sample, piece) -> the three masses, where all three are there and the sample is registered."""
    return {
        (sample, piece): masses
        for (sample, piece, test), masses in weighings.items()
        if test == "bulk" and "dry" in masses and sample in SAMPLES
    }


@pytest.fixture(scope="module")
def gmm(weighings: Weighings) -> dict[str, list[float]]:
    """Sample -> Gmm of its portions, by flask with the water-density ratio, or by bowl (AASHTO T 209)."""
    found: dict[str, list[float]] = defaultdict(list)
    for (sample, _, test), masses in weighings.items():
        if test != "maximum":
            continue
        dry = masses["dry"]
        if "vessel sunk" in masses:
            volume = dry - (masses["vessel and mix sunk"] - masses["vessel sunk"])
        else:
            volume = (dry + masses["vessel full"] - masses["vessel and mix"]) / _water_ratio(masses["water"])
        found[sample].append(dry / volume)
    return dict(found)


def _gmb(masses: dict[str, float]) -> float:
    return masses["dry"] / (masses["surface dry"] - masses["in water"])


def _voids(
    bulks: dict[tuple[str, str], dict[str, float]], gmm: dict[str, list[float]], at_design: set[tuple[str, str]]
) -> dict[str, float]:
    by_sample: dict[str, list[float]] = defaultdict(list)
    for (sample, piece), masses in bulks.items():
        if (sample, piece) in at_design:
            by_sample[sample].append(100 * (1 - _gmb(masses) / mean(gmm[sample])))
    return {sample: mean(values) for sample, values in by_sample.items()}


def test_every_loose_sample_has_two_portions_that_agree(gmm: dict[str, list[float]]) -> None:
    loose = {label for label, sample in SAMPLES.items() if sample.material == "mix"}
    assert gmm.keys() == loose
    assert all(len(portions) == 2 for portions in gmm.values())
    assert _outside("gmm", ((sample, mean(portions)) for sample, portions in gmm.items())) == {}
    assert _outside("gmm_portions", ((s, abs(p[0] - p[1])) for s, p in gmm.items())) == {}


def test_residual_pressure(weighings: Weighings) -> None:
    held = [(key, masses["pressure"]) for key, masses in weighings.items() if "pressure" in masses]
    assert len(held) > 50
    assert _outside("residual_pressure_kpa", held) == {}


def test_only_the_listed_specimens_absorb_too_much_or_are_in_the_wrong_order(
    bulks: dict[tuple[str, str], dict[str, float]], troubles: list[dict[str, Any]]
) -> None:
    absorbed = [
        (key, 100 * (masses["surface dry"] - masses["dry"]) / (masses["surface dry"] - masses["in water"]))
        for key, masses in bulks.items()
    ]
    assert _outside("water_absorbed_pct", absorbed).keys() == _troubled(troubles, "absorbing")
    assert {key for key, value in absorbed if value < 0} == _troubled(troubles, "swapped_masses")


def test_bath(bulks: dict[tuple[str, str], dict[str, float]]) -> None:
    assert _outside("bath_c", ((key, masses["water"]) for key, masses in bulks.items())) == {}


def test_compactor_settings(compactions: list[dict[str, Any]], troubles: list[dict[str, Any]]) -> None:
    runs = [((run["sample"], run["piece"]), run) for run in compactions]
    low = _outside("pressure_kpa", ((key, run["pressure"]) for key, run in runs))
    assert low.keys() == _troubled(troubles, "pressure")
    assert _outside("angle_deg", ((key, run["angle"]) for key, run in runs)) == {}
    assert _outside("rate_per_min", ((key, run["rate"]) for key, run in runs)) == {}


def test_heights_never_increase_and_end_near_115_mm(compactions: list[dict[str, Any]]) -> None:
    for run in compactions:
        heights = run["heights"]
        assert len(heights) == run["gyrations"] + 1
        assert all(later <= earlier for earlier, later in pairwise(heights))
    ends = (((run["sample"], run["piece"]), run["heights"][-1]) for run in compactions)
    assert _outside("height_mm", ends) == {}


def test_specimens_reach_the_levels_of_their_project(
    compactions: list[dict[str, Any]], bulks: dict[tuple[str, str], dict[str, float]], gmm: dict[str, list[float]]
) -> None:
    initial: list[tuple[object, float]] = []
    for run in compactions:
        sample = SAMPLES[run["sample"]]
        levels = sample.mix.project["gyrations"]
        assert run["gyrations"] in levels[1:]
        key = (run["sample"], run["piece"])
        if key in bulks:
            at_end = 100 * _gmb(bulks[key]) / mean(gmm[run["sample"]])
            initial.append((key, at_end * run["heights"][-1] / run["heights"][levels[0]]))
    assert _outside("relative_density_n_initial_pct", initial) == {}


def test_air_voids_stay_near_the_design(
    compactions: list[dict[str, Any]],
    bulks: dict[tuple[str, str], dict[str, float]],
    gmm: dict[str, list[float]],
    troubles: list[dict[str, Any]],
) -> None:
    at_design = {
        (run["sample"], run["piece"])
        for run in compactions
        if run["gyrations"] == SAMPLES[run["sample"]].mix.project["gyrations"][1]
    } - _troubled(troubles, "reissued_journal", "swapped_masses")
    voids = _voids(bulks, gmm, at_design)
    assert _outside("air_voids_pct", voids.items()) == {}
    drifting = mean(v for label, v in voids.items() if SAMPLES[label].mix.id == "EBBER-S9")
    steady = mean(v for label, v in voids.items() if SAMPLES[label].mix.project["id"] == "FALLOW")
    assert drifting > steady + 0.3


def test_one_plant_loses_binder(weighings: Weighings) -> None:
    last: dict[str, float] = {}
    for (label, _, test), masses in sorted(weighings.items()):
        if test == "burn" and SAMPLES[label].phase == "production":
            given = SAMPLES[label].mix.given
            burnt = 100 * (1 - masses["after burn"] / masses["before burn"]) - given["correction_pct"]
            _, revision = SAMPLES[label].mix.revision(SAMPLES[label].taken_on)
            last[SAMPLES[label].mix.id] = burnt - revision["pb"]
    low = {mix for mix, deviation in last.items() if deviation < -0.5}
    assert low == {"EBBER-S9", "EBBER-B12"}


def test_sieving_closes(weighings: Weighings) -> None:
    losses = []
    for key, masses in weighings.items():
        if key[2] == "sieving":
            on_sieves = [mass for weighed, mass in masses.items() if weighed.startswith("on sieve")]
            assert len(on_sieves) == len(SAMPLES[key[0]].mix.gradation) + 1
            losses.append((key, 100 * abs(masses["after wash"] - sum(on_sieves)) / masses["after wash"]))
            assert min(on_sieves) >= 0
            assert masses["after wash"] < masses["before wash"]
    assert len(losses) > 50
    assert _outside("check_sum_pct", losses) == {}


def test_cores_and_the_overlay_of_low_density(
    bulks: dict[tuple[str, str], dict[str, float]], gmm: dict[str, list[float]]
) -> None:
    lots: dict[tuple[str, str | None], list[float]] = defaultdict(list)
    for label, portions in gmm.items():
        lots[SAMPLES[label].mix.id, SAMPLES[label].lot].extend(portions)
    voids: dict[tuple[str, str], float] = {}
    for (label, piece), masses in bulks.items():
        sample = SAMPLES[label]
        if sample.material == "core":
            voids[label, piece] = 100 * (1 - _gmb(masses) / mean(lots[sample.mix.id, sample.lot]))
    assert _outside("core_air_voids_pct", voids.items()) == {}
    by_project: dict[str, list[float]] = defaultdict(list)
    for (label, _), value in voids.items():
        by_project[SAMPLES[label].mix.project["id"]].append(value)
    means = {project: mean(values) for project, values in by_project.items()}
    assert max(means, key=lambda project: means[project]) == "SEDGE"


def test_design_vma_is_above_the_published_minimum(mixes: dict[tuple[str, int], dict[str, Any]]) -> None:
    minimum = LIMITS["vma_min_pct"]["by_nmas"]
    without = {key for key, card in mixes.items() if "gsb" not in card}
    assert without == {("GANNO-H19", 1)}
    for key, card in mixes.items():
        if key not in without:
            assert minimum[f"{card['nmas_mm']:g}"] <= card["vma_pct"] < minimum[f"{card['nmas_mm']:g}"] + 2, key


def test_wheel_tests_keep_load_and_bath_and_are_deepest_in_the_middle() -> None:
    loads: list[tuple[object, float]] = []
    baths: list[tuple[object, float]] = []
    for path in sorted((EXPORTS / "track_table").iterdir()):
        lines = path.read_text(encoding="utf-8-sig").splitlines()
        head = {name: values for name, *values in (line.split("\t") for line in lines[:13])}
        loads += [((path.name, side), float(load)) for side, load in enumerate(head["Load N"])]
        baths.append((path.name, float(head["Bath mean C"][0])))
        last = [float(cell) for cell in lines[-2].split("\t")]
        for depths in (last[1:12], last[12:]):
            assert mean(depths[4:7]) > mean([*depths[:2], *depths[-2:]]), path.name
    for path in sorted((EXPORTS / "track_xml").iterdir()):
        text = path.read_text(encoding="utf-8")
        loads += [((path.name, load), float(load)) for load in re.findall(r' load="([0-9.]+)"', text)]
        baths += [(path.name, float(bath)) for bath in re.findall(r' mean="([0-9.]+)"', text)]
    for path in sorted((EXPORTS / "track_store").iterdir()):
        with closing(sqlite3.connect(path)) as stored:
            loads += [((path.name, lane), load) for lane, load in stored.execute("select lane, load_n from lanes")]
            baths += [
                (path.name, bath) for (bath,) in stored.execute("select told from about where what like 'bath held%'")
            ]
            ends = "select * from ruts where passes = (select max(passes) from ruts)"
            for _, _, *depths in stored.execute(ends):
                assert mean(depths[4:7]) > mean([*depths[:2], *depths[-2:]]), path.name
    assert _outside("wheel_load_n", loads) == {}
    assert _outside("wheel_bath_c", baths) == {}
