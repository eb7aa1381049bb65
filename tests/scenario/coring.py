"""Tests the cores of one lot: bulk gravity against the lot's maximum gravity, and their row in the register."""

from datetime import datetime, time, timedelta

import numpy as np

from tests.scenario import mixture, troubles
from tests.scenario.bench import Bench
from tests.scenario.formats.book import Cell
from tests.scenario.plan import Sample

_AREA_CM2 = np.pi * 7.5**2


def run_cores(bench: Bench, sample: Sample, rng: np.random.Generator) -> list[tuple[Cell, ...]]:
    """Weigh the cores of a lot; return their rows for the sheet `Cores`."""
    _, revision = sample.mix.revision(sample.taken_on)
    drift = sample.mix.given.get("binder_drift_pct", 0.0) * sample.progress
    gmm = mixture.maximum_gravity(revision["pb"] + drift, revision["gse"], sample.mix.given["gb"])
    start = datetime.combine(sample.taken_on, time(14, 5)) + timedelta(minutes=70 * sample.slot)
    rows: list[tuple[Cell, ...]] = []
    for number, core in enumerate(mixture.cores(sample, rng), start=1):
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
    return rows
