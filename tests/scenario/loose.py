"""Tests one loose-mix sample: compaction, bulk and maximum gravity, ignition, sieving, wheel tracking."""

from datetime import datetime, time, timedelta

import numpy as np

from tests.scenario import further, mixture, rutting, troubles
from tests.scenario.bench import Bench
from tests.scenario.formats import furnace, press, shaker, track, weighbook
from tests.scenario.formats import journal as journals
from tests.scenario.mixture import Truth
from tests.scenario.plan import Sample, next_workday, workday

_MOULD_MM = 150.0
_AREA_CM2 = np.pi * (_MOULD_MM / 20) ** 2
_TARGET_HEIGHT_MM = 115.0
#: Density of water relative to 25 °C (Kell 1975): volumetrics section 0.3.
_WATER_C = np.arange(20.0, 31.0)
_WATER_RATIO = np.array([1.00116, 1.00095, 1.00073, 1.00050, 1.00025, 1.0, 0.99974, 0.99947, 0.99919, 0.99890, 0.99860])
#: Compaction temperature by the first number of the binder grade, °C: common practice.
_MIX_C = {"58": 138.0, "64": 145.0, "70": 152.0, "76": 160.0}


def _clock(sample: Sample, hour: int, minute: int = 0, days: int = 0) -> datetime:
    """Return a time of the test day; samples of one day queue 50 minutes apart."""
    day = sample.taken_on
    for _ in range(days):
        day = next_workday(day)
    return datetime.combine(day, time(hour, minute)) + timedelta(minutes=50 * sample.slot)


def _specimen(bench: Bench, sample: Sample, truth: Truth, piece: int, final: int, rng: np.random.Generator) -> None:
    """Compact one specimen to `final` gyrations, export the run, and weigh it for its bulk gravity."""
    design = sample.mix.project["gyrations"][1]
    relative = 100 - truth.air_voids + 0.2 * rng.standard_normal()
    at_end = relative + truth.slope * np.log10(final / design)
    gmb = truth.gmm * at_end / 100
    surface = rng.uniform(1.012, 1.020)  # the measured gravity is above the one from the smooth cylinder's volume
    charge = round(_TARGET_HEIGHT_MM / 10 * _AREA_CM2 * gmb / surface + rng.uniform(-20, 20))
    final_mm = 10 * charge / (gmb / surface) / _AREA_CM2
    started = _clock(sample, 9, 14 * (piece - 1)) + timedelta(minutes=int(rng.integers(0, 4)))
    pressed = troubles.find("pressure", sample.label, str(piece))
    bench.pressed(
        press.Press(
            machine=bench.laboratory["press_machine"],
            written=started + timedelta(minutes=final // 30 + 3),
            sample=sample.label,
            piece=str(piece),
            started=started,
            stop="gyrations",
            pressure_kpa=pressed["kpa"] if pressed else 600 + 2.0 * rng.standard_normal(),
            angle_deg=1.16 + 0.004 * rng.standard_normal(),
            speed_per_min=30 + 0.1 * rng.standard_normal(),
            charge_g=charge,
            mould_mm=_MOULD_MM,
            mix_c=_MIX_C[sample.mix.given["binder"][3:5]] + 2 * rng.standard_normal(),
            heights_mm=mixture.heights(relative, design, truth.slope, final, final_mm, rng).tolist(),
        )
    )
    masses = mixture.bulk(
        charge - rng.uniform(0.5, 3.0), gmb, rng.uniform(0.25, 0.85), 25 + 0.3 * rng.standard_normal()
    )
    bench.weigh_bulk(_clock(sample, 13, 11 * (piece - 1)), sample.label, str(piece), masses, on_slip=False)
    further.by_dimensions(bench, sample, str(piece), final_mm, _MOULD_MM, masses.dry)


def _specimens(bench: Bench, sample: Sample, truth: Truth, rng: np.random.Generator) -> None:
    _, design, maximum = sample.mix.project["gyrations"]
    finals = [design, design]
    if sample.phase == "verification":
        finals.append(maximum)
    elif int(sample.label[-4:]) % 8 == 0:
        finals.append(design)
    for piece, final in enumerate(finals, start=1):
        _specimen(bench, sample, truth, piece, final, rng)


def _maximum(bench: Bench, sample: Sample, truth: Truth, portion: int, rng: np.random.Generator) -> None:
    """Weigh one portion for the maximum gravity (AASHTO T 209), in a flask or a bowl, on slip or in the journal."""
    how = bench.laboratory["maximum"]
    empty = bench.laboratory["vessel"][portion - 1]
    dry = (2520 if sample.mix.given["nmas_mm"] > 12.5 else 1510) + rng.uniform(0, 40)
    volume = dry / (truth.gmm + 0.003 * rng.standard_normal())
    water = 25 + 0.35 * rng.standard_normal()
    taken = _clock(sample, 10, 20 * portion) + timedelta(minutes=int(rng.integers(0, 5)))
    if "bowl" in how:
        readings = [("DRY IN AIR", dry), ("VESSEL SUNK", empty), ("VESSEL AND MIX SUNK", empty + dry - volume)]
    else:
        ratio = float(np.interp(water, _WATER_C, _WATER_RATIO))
        readings = [("DRY IN AIR", dry), ("VESSEL FULL", empty), ("VESSEL AND MIX", empty + dry - volume * ratio)]
    if how == "journal flask":
        _logged(bench, sample, portion, taken, [mass for _, mass in readings], water)
        return
    pressure = rng.uniform(3.5, 3.9)
    if how == "book flask":
        masses = [mass for _, mass in readings]
        bench.flask(weighbook.Flask(sample.label, str(portion), taken, *masses, water, pressure))
        return
    rows = [*((label, mass, "g") for label, mass in readings), ("WATER", water, "C"), ("PRESSURE", pressure, "kPa")]
    bench.ticket(taken, f"maximum, {how.split()[1]}", sample.label, str(portion), rows)


def _logged(bench: Bench, sample: Sample, portion: int, taken: datetime, masses: list[float], water: float) -> None:
    words = ("dry", "vessel full", "vessel and mix")
    for number, (weighed, grams) in enumerate(zip(words, masses, strict=True)):
        at = taken + timedelta(minutes=3 * number, seconds=17 * number)
        temperature = None if weighed == "dry" else water
        entry = journals.Entry(at, sample.label, str(portion), "maximum", weighed, grams, water=temperature)
        bench.weigh("general", entry)


def _burn(bench: Bench, sample: Sample, truth: Truth, rng: np.random.Generator) -> float:
    """Burn the binder off (AASHTO T 308) and return the mass of aggregate left, g."""
    before = (2040 if sample.mix.given["nmas_mm"] > 12.5 else 1530) + rng.uniform(0, 40)
    loss = truth.pb + sample.mix.given["correction_pct"] + further.moisture(sample) + 0.05 * rng.standard_normal()
    after = float(before * (1 - loss / 100))
    started, ended = _clock(sample, 8, 10), _clock(sample, 11, 25)
    if bench.laboratory["burn"] == "slip":
        readings = [("BEFORE BURN", before, "g"), ("AFTER BURN", after, "g")]
        bench.ticket(ended, "burn", sample.label, "1", readings)
    elif bench.laboratory["burn"] == "furnace":
        bench.burnt(furnace.Burn(sample.label, "1", started, ended, before, after))
    else:
        bench.weigh("general", journals.Entry(started, sample.label, "1", "burn", "before burn", before))
        bench.weigh("general", journals.Entry(ended, sample.label, "1", "burn", "after burn", after))
    return after


def _sieve(bench: Bench, sample: Sample, truth: Truth, dry: float, rng: np.random.Generator) -> None:
    """Wash and sieve what was left of the burn (AASHTO T 30) on the next working day."""
    washed, masses = mixture.retained(truth.passing, dry, rng)
    start = _clock(sample, 8, 5, days=1)
    if bench.laboratory["sieving"] == "shaker":
        on = dict(zip(sample.mix.gradation, map(float, masses), strict=False))
        ended = start + timedelta(minutes=265 + 2 * len(on))
        bench.shaken(shaker.Shaken(sample.label, "1", start, ended, dry, washed, on, float(masses[-1])))
        return
    rows: list[tuple[str, float | None, float, int]] = [
        ("before wash", None, dry, 0),
        ("after wash", None, washed, 240),
    ]
    openings = [*sample.mix.gradation, 0.0]
    rows += [
        ("on sieve", opening, float(grams), 265 + 2 * number)
        for number, (opening, grams) in enumerate(zip(openings, masses, strict=True))
    ]
    for weighed, opening, grams, minutes in rows:
        at = start + timedelta(minutes=minutes)
        bench.weigh("general", journals.Entry(at, sample.label, "1", "sieving", weighed, grams, opening))


def _track(bench: Bench, sample: Sample, rng: np.random.Generator) -> None:
    if not sample.tracked or troubles.find("wheel_missing", sample.label):
        return
    stopped = troubles.find("stopped_early", sample.label)
    ruts = rutting.ruts(sample, stopped["passes"] if stopped else None, rng)
    started = datetime.combine(workday(sample.taken_on + timedelta(days=3)), time(9, 20 + 5 * sample.slot))
    voids = (7 + 0.2 * rng.standard_normal(2)).tolist()
    load = (703 + 1.2 * rng.standard_normal(2)).tolist()
    bench.tracked(
        track.Track(
            machine=bench.laboratory["tracker"],
            written=started + timedelta(minutes=int(ruts.passes[-1]) // 52 + 10),
            started=started,
            sample=sample.label,
            test="1",
            set_passes=ruts.set_passes,
            ended_by=ruts.ended_by,
            load_n=(load[0], load[1]),
            bath_set_c=50.0,
            bath_mean_c=50 + 0.1 * rng.standard_normal(),
            passes_per_min=52 + 0.2 * rng.standard_normal(),
            air_voids=(voids[0], voids[1]),
            passes=ruts.passes,
            left=ruts.left,
            right=ruts.right,
        )
    )


def run_loose_mix(bench: Bench, sample: Sample, rng: np.random.Generator, known: Truth | None = None) -> None:
    """Run every test of a loose-mix sample and hand the exports to the bench; `known`: its truth, if given."""
    truth = known or mixture.truth(sample, rng)
    _specimens(bench, sample, truth, rng)
    for portion in (1, 2):
        _maximum(bench, sample, truth, portion, rng)
    _sieve(bench, sample, truth, _burn(bench, sample, truth, rng), rng)
    _track(bench, sample, rng)
