"""Tests only a few samples get: moisture, extraction, furnace calibration, dimensions, compaction in steps."""

from datetime import datetime, time, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.scenario import mixture
from tests.scenario.aside import chance
from tests.scenario.bench import Bench
from tests.scenario.formats.blows import Steps
from tests.scenario.formats.caliper import Length
from tests.scenario.formats.furnace import Burn
from tests.scenario.formats.journal import Entry
from tests.scenario.formats.pans import Pan
from tests.scenario.plan import Sample, next_workday, read

GIVEN = read("further")


def moisture(sample: Sample) -> float:
    """Return the moisture (% of the dry mass) of the mixture as it was burnt; most are dried before."""
    return float(GIVEN["moisture"].get(sample.label, 0.0))


def run_further(bench: Bench, sample: Sample, stream: list[int]) -> None:
    """Make the further tests of a loose-mix sample, if it has any; its truth is drawn again from its own stream."""
    truth = mixture.truth(sample, np.random.Generator(np.random.PCG64(stream)))
    if moisture(sample):
        _dry(bench, sample)
    if sample.label in GIVEN["extracted"]:
        for part in (1, 2):
            _extract(bench, sample, truth, part)
    if sample.phase == "verification" and bench.laboratory["burn"] == "furnace":
        for part in (1, 2):
            _calibrate(bench, sample, part)
    for series in GIVEN["kneaded"]:
        if series["sample"] == sample.label:
            for place, piece in enumerate(series["pieces"]):
                _knead(bench, sample, series, piece, place, truth)


def _dry(bench: Bench, sample: Sample) -> None:
    """Dry a pan of mixture to constant mass in the oven."""
    rng = chance(sample.label, "moisture")
    empty, dry = 400 + rng.uniform(0, 30), 1200 + rng.uniform(0, 60)
    water = dry * moisture(sample) / 100
    left = ((90, 0.15), (120, 0.02), (150, 0.0))
    weighings = tuple(
        (minutes, float(163 + rng.integers(-3, 4)), empty + dry + share * water) for minutes, share in left
    )
    put_in = datetime.combine(sample.taken_on, time(8, 20))
    bench.dried(Pan(sample.label, "1", put_in, empty, empty + dry + water, weighings))


def _extract(bench: Bench, sample: Sample, truth: mixture.Truth, part: int) -> None:
    """Wash the binder out with solvent (AASHTO T 164); the centrifuge's masses come from the slip printer."""
    rng = chance(sample.label, "extraction", part)
    before = 1550 + rng.uniform(0, 40)
    water = 0.0003 * before
    solid = (before - water) * (1 - (truth.pb + 0.08 * rng.standard_normal()) / 100)
    mineral = rng.uniform(4, 9)
    readings = [
        ("BEFORE EXTRACTION", before, "g"),
        ("WATER IN IT", water, "g"),
        ("EXTRACTED", solid - mineral, "g"),
        ("MINERAL MATTER", mineral, "g"),
    ]
    at = datetime.combine(next_workday(sample.taken_on), time(9, 30)) + timedelta(minutes=75 * part)
    bench.ticket(at, "extraction", sample.label, str(part), readings)


def _calibrate(bench: Bench, sample: Sample, part: int) -> None:
    """Burn a mixture of known binder content for the furnace's correction factor of this mix."""
    rng = chance(sample.label, "calibration", part)
    _, revision = sample.mix.revision(sample.taken_on)
    before = (2040 if sample.mix.given["nmas_mm"] > 12.5 else 1530) + rng.uniform(0, 40)
    loss = revision["pb"] + sample.mix.given["correction_pct"] + 0.02 * rng.standard_normal()
    lit = datetime.combine(sample.taken_on, time(13, 5)) + timedelta(minutes=90 * (part - 1))
    out = lit + timedelta(minutes=65)
    after = float(before * (1 - loss / 100))
    bench.burnt(Burn(sample.label, f"K{part}", lit, out, before, after, known_pct=revision["pb"]))


def by_dimensions(bench: Bench, sample: Sample, piece: str, height_mm: float, across_mm: float, dry: float) -> None:
    """Read height and diameter of a specimen with the caliper, and weigh it (AASHTO T 269), where the sample is so
    tested.
    """
    if sample.label not in GIVEN["by_dimensions"]:
        return
    rng = chance(sample.label, "dimensions", piece)
    at = datetime.combine(sample.taken_on, time(14, 30)) + timedelta(minutes=7 * int(piece))
    for what, length in (("height", height_mm), ("across", across_mm)):
        readings = tuple((length + 0.08 * rng.standard_normal(4)).tolist())
        bench.measured(Length(sample.label, piece, what, at, readings))
    bench.weigh("bulk", Entry(at, sample.label, piece, "dimensions", "dry", dry))


def hammered(bench: Bench, sample: Sample, piece: str, height_mm: float, charge: float) -> None:
    """Make a specimen with 75 blows of the hammer on each face (AASHTO T 245)."""
    rng = chance(sample.label, "blows", piece)
    steps = (0, 5, 10, 15, 20, 30, 40, 50, 60, 75)
    heights = _settle(np.array(steps) / 75, height_mm, 14.0, rng)
    made = datetime.combine(sample.taken_on, time(15, 10)) + timedelta(minutes=8 * int(piece[1:]))
    units = (
        ("hammer", "4.536 kg"),
        ("drop", "457.2 mm"),
        ("mould", "101.6 mm"),
        ("mixture", f"{143 + rng.integers(-2, 3)} C"),
        ("filled", f"{charge:.1f} g"),
    )
    machine = bench.laboratory["hammer"]
    series = tuple(zip(steps, heights, strict=True))
    run = Steps(machine, sample.label, piece, made, made + timedelta(minutes=4), "falling hammer", 75, units, series)
    bench.stepped(run)


def _knead(bench: Bench, sample: Sample, given: dict[str, Any], piece: str, place: int, truth: mixture.Truth) -> None:
    rng = chance(sample.label, "kneading", piece)
    tamps = int(given["tamps"])
    steps = (0, *range(10, tamps + 1, 20))
    height = given["height_mm"] + 0.4 * rng.standard_normal()
    heights = _settle(np.array(steps) / tamps, height, 11.0, rng)
    gmb = truth.gmm * (1 - (given["voids_pct"] + 0.15 * rng.standard_normal()) / 100)
    charge = np.pi * (given["mould_mm"] / 20) ** 2 * height / 10 * gmb / 1.01
    made = datetime.combine(next_workday(sample.taken_on), time(8, 40)) + timedelta(minutes=20 * place)
    units = (
        ("foot", f"{given['foot_kpa']} kPa"),
        ("mould", f"{given['mould_mm']} mm"),
        ("mixture", f"{118 + rng.integers(-2, 3)} C"),
        ("filled", f"{charge:.1f} g"),
    )
    series = tuple(zip(steps, heights, strict=True))
    kept = made + timedelta(minutes=9)
    bench.stepped(
        Steps(bench.laboratory["kneader"], sample.label, piece, made, kept, "kneading foot", tamps, units, series)
    )
    masses = mixture.bulk(charge - rng.uniform(0.3, 1.2), gmb, rng.uniform(0.3, 0.7), 25 + 0.2 * rng.standard_normal())
    at = datetime.combine(next_workday(sample.taken_on), time(14, 20)) + timedelta(minutes=11 * place)
    rows = (("dry", masses.dry, None), ("in water", masses.submerged, masses.water), ("surface dry", masses.ssd, None))
    for weighed, grams, water in rows:
        at += timedelta(seconds=95)
        bench.weigh("bulk", Entry(at, sample.label, piece, "kneaded", weighed, grams, water=water))


def _settle(done: NDArray[np.float64], last: float, fall: float, rng: np.random.Generator) -> list[float]:
    """Return heights in mm that fall quickly at first and end at `last`; `done` runs from 0 to 1."""
    curve = last + fall * (np.exp(-4 * done) - np.exp(-4)) + 0.03 * rng.standard_normal(len(done))
    curve[-1] = last
    return [float(height) for height in np.maximum.accumulate(curve[::-1].round(1))[::-1]]
