"""Tests the cores of one lot: bulk gravity, place and thickness, and the density gauge's round over the lot."""

from datetime import datetime, time, timedelta
from typing import Any

import numpy as np

from tests.scenario import mixture, troubles
from tests.scenario.aside import chance
from tests.scenario.bench import Bench
from tests.scenario.formats import caliper, corelog, gauge
from tests.scenario.formats.book import Cell
from tests.scenario.further import GIVEN
from tests.scenario.plan import Sample

_AREA_CM2 = np.pi * 7.5**2


def run_cores(bench: Bench, sample: Sample, rng: np.random.Generator) -> list[tuple[Cell, ...]]:
    """Weigh the cores of a lot; return their rows for the sheet `Cores`, none where the crew keeps a log."""
    _, revision = sample.mix.revision(sample.taken_on)
    drift = sample.mix.given.get("binder_drift_pct", 0.0) * sample.progress
    gmm = mixture.maximum_gravity(revision["pb"] + drift, revision["gse"], sample.mix.given["gb"])
    start = datetime.combine(sample.taken_on, time(14, 5)) + timedelta(minutes=70 * sample.slot)
    rows: list[tuple[Cell, ...]] = []
    cut = mixture.cores(sample, rng)
    for number, core in enumerate(cut, start=1):
        piece = str(number)
        absorbing = troubles.find("absorbing", sample.label, piece)
        gmb = gmm * core.relative / 100
        masses = mixture.bulk(
            core.thickness_mm / 10 * _AREA_CM2 * gmb / 1.01,
            gmb,
            absorbing["pct"] if absorbing else core.absorbed,
            25 + 0.3 * rng.standard_normal(),
        )
        at = start + timedelta(minutes=12 * (number - 1))
        bench.weigh_bulk(at, sample.label, piece, masses, on_slip=bench.laboratory["cores"] == "slip")
        lift = 1 if sample.mix.given["lift_mm"] > 50 else 2
        rows.append((sample.label, piece, core.station_m, core.offset_m, lift, core.thickness_mm, None))
    if sample.label in GIVEN["calipered"]:
        _caliper(bench, sample, cut)
    for given in GIVEN["gauge"]:
        if given["sample"] == sample.label:
            _gauge(bench, sample, cut, gmm, given)
    if sample.mix.id in GIVEN["core_logs"]:
        _log(bench, sample, cut, lift)
        return []
    return rows


def _around(label: str, piece: str, core: mixture.Core) -> tuple[float, ...]:
    """Return four readings of the thickness around a core, mm."""
    readings = core.thickness_mm + 0.7 * chance(label, "thickness", piece).standard_normal(4)
    return tuple(readings.round(1).tolist())


def _caliper(bench: Bench, sample: Sample, cut: list[mixture.Core]) -> None:
    at = datetime.combine(sample.taken_on, time(11, 20))
    for number, core in enumerate(cut, start=1):
        readings = _around(sample.label, str(number), core)
        read = at + timedelta(minutes=3 * number)
        bench.measured(caliper.Length(sample.label, str(number), "thickness", read, readings))


def _log(bench: Bench, sample: Sample, cut: list[mixture.Core], lift: int) -> None:
    start = datetime.combine(sample.taken_on, time(9, 15))
    cores = [
        corelog.Cut(
            str(number),
            start + timedelta(minutes=14 * number),
            core.station_m,
            core.offset_m,
            lift,
            _around(sample.label, str(number), core),
        )
        for number, core in enumerate(cut, start=1)
    ]
    kept = cores[-1].cut + timedelta(minutes=20)
    name = bench.laboratory["caliper"]
    bench.files[f"core_log/{sample.label}.xml"] = corelog.core_log(sample.label, name, kept, cores)


def _gauge(bench: Bench, sample: Sample, cut: list[mixture.Core], gmm: float, given: dict[str, Any]) -> None:
    """Read every core's place, then some places without a core, twice each."""
    rng = chance(sample.label, "gauge")
    mean = float(np.mean([core.relative for core in cut]))
    first, last = cut[0].station_m, cut[-1].station_m
    places = [(core.station_m, core.offset_m, core.relative) for core in cut]
    places += [
        (float(station), float(rng.uniform(-3, 3)), mean + float(0.4 * rng.standard_normal()))
        for station in np.linspace(first + 5, last + 60, given["more"])
    ]
    readings = [
        gauge.Reading(
            str(place),
            turn,
            station,
            offset,
            relative / 100 * gmm * 997.1 - given["low"] + float(9 * rng.standard_normal()),
            float(rng.uniform(0.2, 0.9)),
        )
        for place, (station, offset, relative) in enumerate(places, start=1)
        for turn in (1, 2)
    ]
    begun = datetime.combine(sample.taken_on, time(8, 30))
    counts = (int(2680 + rng.integers(0, 60)), int(640 + rng.integers(0, 20)))
    kept = begun + timedelta(minutes=4 * len(readings))
    one = gauge.Round(
        bench.laboratory["gauge"], sample.label, begun, kept, given["unit"], counts, given.get("added"), readings
    )
    bench.files[f"gauge_round/{sample.label}.txt"] = gauge.gauge_round(one)
