"""Tests aggregate samples: gravities, gradation, loose fill, broken faces, shapes, sand equivalent; one book each."""

from datetime import datetime, time
from typing import Any

import numpy as np

from tests.scenario import mixture
from tests.scenario.aside import chance
from tests.scenario.bench import Bench
from tests.scenario.formats.aggregatebook import aggregatebook
from tests.scenario.formats.book import Cell
from tests.scenario.plan import Sample, next_workday, read

Rows = list[tuple[Cell, ...]]

_SPLIT_MM = 4.75
#: Mass sieved by the largest size that holds more than a tenth, g; masses examined for faces and shapes, g.
_SIEVED = {9.5: 1150.0, 12.5: 2200.0}
_FLASK = 668.3


def given_of(label: str) -> dict[str, Any]:
    """Return what the data file says of an aggregate sample."""
    return next(one for one in read("aggregates")["sample"] if one["label"] == label)


def run_aggregate(bench: Bench, sample: Sample) -> None:
    """Test a sample of the blend and hand its book to the bench."""
    given, rng = given_of(sample.label), chance(sample.label, "aggregate")
    coarse, fine = _gravities(sample, given)
    rows: dict[str, Rows] = {
        "Coarse in water": [_coarse(str(n), coarse, given["absorbed"][0], rng) for n in (1, 2)],
        "Fine in flask": [_fine(str(n), fine, given["absorbed"][1], rng) for n in (1, 2)],
        "Sieves": _sieves(sample, rng),
        "Loose fill": [_loose(str(n), fine, given["voids"], rng) for n in (1, 2)],
        "Broken faces": [_faces(sample, given, rng)],
        "Shapes": _shapes(sample, given, rng),
        "Sand and clay": [_sand(str(n), given, rng) for n in (1, 2)],
    }
    saved = datetime.combine(next_workday(sample.taken_on), time(16, 45))
    house = bench.laboratory
    content = aggregatebook(sample.label, house["balance_general"], f"{house['id']}-R1", saved, rows)
    bench.files[f"aggregate_book/{sample.label}.xlsx"] = content


def _gravities(sample: Sample, given: dict[str, Any]) -> tuple[float, float]:
    """Return Gsb of coarse and fine that combine to the design's (AASHTO T 84, T 85: harmonic by the share)."""
    _, revision = sample.mix.revision(sample.mix.given["verification"])
    share = sample.mix.gradation[_SPLIT_MM] / 100
    fine = revision["gsb"] - given["coarse_over_fine"] * (1 - share)
    return (1 - share) / (1 / revision["gsb"] - share / fine), fine


def _coarse(portion: str, gsb: float, absorbed: float, rng: np.random.Generator) -> tuple[Cell, ...]:
    dry = 2080 + rng.uniform(0, 60)
    ssd = dry * (1 + (absorbed + 0.04 * rng.standard_normal()) / 100)
    hung = ssd - dry / (gsb + 0.004 * rng.standard_normal())
    return (portion, *(round(float(mass), 1) for mass in (dry, ssd, hung, 23 + 0.4 * rng.standard_normal())))


def _fine(portion: str, gsb: float, absorbed: float, rng: np.random.Generator) -> tuple[Cell, ...]:
    ssd = 500 + rng.uniform(-3, 3)
    dry = ssd / (1 + (absorbed + 0.05 * rng.standard_normal()) / 100)
    full = _FLASK + ssd - dry / (gsb + 0.005 * rng.standard_normal())
    masses = (dry, ssd, _FLASK, full, 23 + 0.4 * rng.standard_normal())
    return (portion, *(round(float(mass), 1) for mass in masses))


def _sieves(sample: Sample, rng: np.random.Generator) -> Rows:
    unwashed = _SIEVED[sample.mix.given["nmas_mm"]] + rng.uniform(0, 60)
    passing = mixture.passing(sample.mix, 0.3, rng)
    washed, masses = mixture.retained(passing, unwashed, rng)
    openings = [*sample.mix.gradation, 0.0]
    whole: Rows = [("1", "stays on", 19.0, 0.0)] if openings[0] < 19 else []  # nothing stays above the curve
    return [
        ("1", "unwashed", None, round(float(unwashed), 1)),
        ("1", "washed", None, round(float(washed), 1)),
        *whole,
        *(("1", "stays on", opening, round(float(g), 1)) for opening, g in zip(openings, masses, strict=True)),
    ]


def _loose(run: str, gsb: float, voids: float, rng: np.random.Generator) -> tuple[Cell, ...]:
    """Fill the measure of 99.7 cm³ once; with the first run it is calibrated with water."""
    volume, water_density, measure, plate = 99.7, 0.99754, 178.6, 251.9
    filled = measure + volume * (1 - (voids + 0.1 * rng.standard_normal()) / 100) * gsb
    calibrated: tuple[Cell, ...] = (plate, round(plate + volume * water_density, 1), 23.0)
    return (run, measure, round(float(filled), 1), *(calibrated if run == "1" else (None, None, None)))


def _faces(sample: Sample, given: dict[str, Any], rng: np.random.Generator) -> tuple[Cell, ...]:
    total = 780 + rng.uniform(0, 40)
    cells: list[Cell] = ["1"]
    for share in (given["one_face"], given["two_faces"]):
        doubtful = total * rng.uniform(0.004, 0.012)
        broken = total * share / 100 - doubtful / 2
        cells += [round(float(mass), 1) for mass in (broken, doubtful, total - broken - doubtful)]
    return tuple(cells)


def _shapes(sample: Sample, given: dict[str, Any], rng: np.random.Generator) -> Rows:
    """Examine the sizes down to 4.75 mm that hold a tenth of the sample or more; the coarser size first."""
    openings, target = list(sample.mix.gradation), list(sample.mix.gradation.values())
    held = [(o, before - after) for o, before, after in zip(openings, [100.0, *target], target, strict=False)]
    sizes = [opening for opening, share in held if share >= 10 and opening >= _SPLIT_MM]
    shares = given["flat_long"][-len(sizes) :]
    rows: Rows = []
    for opening, both in zip(sizes, shares, strict=True):
        looked = 1150 + rng.uniform(0, 60)
        parts = (looked, looked * both / 300, looked * both / 400, looked * both / 100)
        rows.append(("1", opening, *(round(float(mass), 1) for mass in parts)))
    return rows


def _sand(run: str, given: dict[str, Any], rng: np.random.Generator) -> tuple[Cell, ...]:
    return (run, given["clay_mm"] + int(rng.integers(-1, 2)), given["sand_mm"] + int(rng.integers(-1, 2)))
