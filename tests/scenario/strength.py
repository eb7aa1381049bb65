"""Breaks specimens in a load frame: tensile strength dry and conditioned, Marshall stability, cracking index."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.scenario import further, mixture
from tests.scenario.bench import Bench
from tests.scenario.formats.frame import Trace
from tests.scenario.formats.journal import Entry
from tests.scenario.plan import Sample, next_workday, read

_STEP_S = 0.1
_LOWEST_KN = 0.09
_NOISE_KN = 0.002
#: Readings after the peak of a stability end at this share of it: the frame is stopped by hand.
_STOPPED_AT = 0.7


@dataclass(frozen=True)
class _Specimen:
    """What a specimen really is: sizes in mm, volume in cm³, voids in %."""

    diameter: float
    thickness: float
    voids: float
    gmm: float
    wet: bool

    @property
    def volume(self) -> float:
        return float(np.pi / 4 * self.diameter**2 * self.thickness / 1000)

    @property
    def gmb(self) -> float:
        return self.gmm * (1 - self.voids / 100)


def series_of(sample: Sample) -> dict[str, Any] | None:
    """Return the strength tests of a sample; as a rule there are none."""
    wanted = sample.mix.id if sample.phase == "verification" else None
    return next((one for one in read("strength")["series"] if one["mix"] == wanted), None)


def _readings(
    given: dict[str, Any], peak_kn: float, peak_mm: float, rng: np.random.Generator
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Draw time, displacement and load: slow at first contact, then straight, round at the peak, a tail after it."""
    seconds = np.arange(0, 40, _STEP_S)
    way = given["rate"] / 60 * seconds
    rising = np.sin(np.pi / 2 * np.clip(way / peak_mm, 0, 1)) ** 1.3
    falling = np.exp(-((np.clip(way - peak_mm, 0, None) / given["tail_mm"]) ** 1.6))
    load = peak_kn * rising * falling
    low = peak_kn * _STOPPED_AT if given["kind"] == "stability" else _LOWEST_KN
    last = int(np.flatnonzero((way > peak_mm) & (load < low))[0])
    noisy = np.clip(load + _NOISE_KN * rng.standard_normal(len(load)), 0, None)
    noisy[0] = 0.0
    return seconds[: last + 1], way[: last + 1], noisy[: last + 1]


def _weigh(
    bench: Bench, sample: Sample, given: dict[str, Any], piece: str, truth: _Specimen, rng: np.random.Generator
) -> None:
    """Weigh a specimen for its voids, and once more after it was saturated."""
    day = datetime.combine(_day(sample, given["days"] - 3), time(8, 30)) + timedelta(minutes=9 * int(piece[1:]))
    masses = mixture.bulk(truth.volume * truth.gmb, truth.gmb, rng.uniform(0.4, 0.9), 25 + 0.2 * rng.standard_normal())
    rows = [("dry", masses.dry, None), ("in water", masses.submerged, masses.water), ("surface dry", masses.ssd, None)]
    if truth.wet:
        taken_up = rng.uniform(0.72, 0.79) * truth.volume * truth.voids / 100
        rows.append(("saturated", masses.dry + taken_up, None))
    for number, (weighed, grams, water) in enumerate(rows):
        at = day + timedelta(seconds=95 * number)
        bench.weigh("bulk", Entry(at, sample.label, piece, given["kind"], weighed, grams, water=water))


def _day(sample: Sample, days: int) -> date:
    day = sample.taken_on
    for _ in range(days):
        day = next_workday(day)
    return day


def _head(given: dict[str, Any], truth: _Specimen, rng: np.random.Generator) -> tuple[tuple[str, str], ...]:
    head = [
        ("Diameter mm", f"{truth.diameter:.1f}"),
        ("Thickness mm", f"{truth.thickness:.1f}"),
        ("Set mm/min", f"{given['rate']:.1f}"),
        ("Piece C", f"{given['piece_c'] + 0.1 * rng.standard_normal():.1f}"),
    ]
    if given["kind"] == "cracking":
        head.append(("Voids %", f"{truth.voids:.1f}"))
    if "bath_min" in given:
        head.append(("Bath min", f"{given['bath_min']}"))
    if given["kind"] == "tensile":
        head.append(("State", "wet" if truth.wet else "dry"))
    if truth.wet:
        head += [("Freezer h", "16.5"), ("Freezer C", "-18.4"), ("Hot bath h", "24.0"), ("Hot bath C", "60.1")]
        head.append(("Stripped 0-5", "1"))
    return tuple(head)


def run_strength(bench: Bench, sample: Sample, stream: list[int]) -> None:
    """Weigh and break the strength specimens of a sample, if it has any.

    Parameters
    ----------
    bench, sample
        Where the exports go, and what is tested.
    stream
        Seed of the sample's generator; the specimens get generators of their own, so no other export changes.
    """
    given = series_of(sample)
    if given is None:
        return
    gmm = mixture.truth(sample, np.random.Generator(np.random.PCG64(stream))).gmm
    for number, piece in enumerate(given["pieces"], start=1):
        rng = np.random.Generator(np.random.PCG64([*stream, number]))
        wet = given["kind"] == "tensile" and number > len(given["pieces"]) // 2
        _break(bench, sample, given, piece, gmm, wet, rng)


def _break(
    bench: Bench, sample: Sample, given: dict[str, Any], piece: str, gmm: float, wet: bool, rng: np.random.Generator
) -> None:
    truth = _Specimen(
        diameter=given["diameter_mm"] + 0.1 * rng.standard_normal(),
        thickness=given["thickness_mm"] + 0.3 * rng.standard_normal(),
        voids=given["voids_pct"] + 0.15 * rng.standard_normal(),
        gmm=gmm,
        wet=wet,
    )
    if given["kind"] != "cracking":
        _weigh(bench, sample, given, piece, truth, rng)
    if given["kind"] == "stability":
        further.hammered(bench, sample, piece, truth.thickness, truth.volume * truth.gmb + 0.9)
    peak = given["load_kn"] * (1 + given["scatter"] * rng.standard_normal()) * (given["wet"] if wet else 1.0)
    seconds, way, load = _readings(given, peak, given["peak_mm"] + 0.1 * rng.standard_normal(), rng)
    started = datetime.combine(_day(sample, given["days"]), time(13, 10)) + timedelta(minutes=6 * int(piece[1:]))
    bench.broken(
        Trace(
            frame=bench.laboratory["load_frame"],
            written=started + timedelta(seconds=int(seconds[-1]) + 20),
            started=started,
            sample=sample.label,
            piece=piece,
            test=given["kind"],
            head=_head(given, truth, rng),
            seconds=seconds,
            displacement=way,
            load=load,
        )
    )
