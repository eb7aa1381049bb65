"""Generates the whole scenario: every sample tested, every export written, then the troubles."""

from pathlib import Path

import numpy as np

from tests.scenario import mixture, office, troubles
from tests.scenario.aggregates import run_aggregate
from tests.scenario.bench import Bench
from tests.scenario.coring import run_cores
from tests.scenario.formats.book import Cell
from tests.scenario.formats.journal import Entry
from tests.scenario.further import run_further
from tests.scenario.loose import run_loose_mix
from tests.scenario.plan import Sample, plan
from tests.scenario.strength import run_strength

SEED = 20260302


def _stray(benches: dict[str, Bench]) -> None:
    """Log the weighings that name a sample nobody registered."""
    for trouble in troubles.listed():
        if trouble["kind"] == "unknown_sample":
            for weighed, (at, grams) in trouble["weighings"].items():
                entry = Entry(at, trouble["stray"], "1", "bulk", weighed, grams)
                benches[trouble["stray"].split("-")[0]].weigh("bulk", entry)


def _stream(seed: int, houses: list[str], sample: Sample) -> list[int]:
    return [seed, houses.index(sample.laboratory), int(sample.label[-4:])]


def generate(seed: int = SEED) -> dict[str, bytes]:
    """Return path below the destination -> bytes of every export.

    Each sample has a generator of its own, so a change to one sample leaves the files of the others as they were.
    """
    season = plan()
    benches = {name: Bench(house) for name, house in season.laboratories.items()}
    core_rows: dict[str, list[tuple[Cell, ...]]] = {}
    houses = sorted(benches)
    for sample in season.samples:
        stream = _stream(seed, houses, sample)
        rng = np.random.Generator(np.random.PCG64(stream))
        bench = benches[sample.laboratory]
        if sample.material == "core":
            core_rows[sample.label] = run_cores(bench, sample, rng)
        elif sample.material == "aggregate":
            run_aggregate(bench, sample)
        elif sample.split_of:
            whole = np.random.Generator(np.random.PCG64(_stream(seed, houses, sample.split_of)))
            run_loose_mix(bench, sample, rng, mixture.half(sample, mixture.truth(sample.split_of, whole)))
        else:
            run_loose_mix(bench, sample, rng)
            run_strength(bench, sample, stream)
            run_further(bench, sample, stream)
    _stray(benches)
    files = {path: content for bench in benches.values() for path, content in bench.close().items()}
    files.update(office.books(season, core_rows))
    files.update(office.mix_cards(season))
    files.update(office.limits_cards())
    files.update(office.sampling_cards())
    files.update(office.report_cards())
    troubles.apply(files)
    return dict(sorted(files.items()))


def write(dest: Path, seed: int = SEED) -> int:
    """Write every export below `dest`, remove files of an earlier generation there, and return their number."""
    files = generate(seed)
    for folder in {path.split("/")[0] for path in files}:
        for old in (dest / folder).glob("*"):
            if f"{folder}/{old.name}" not in files:
                old.unlink()
    for path, content in files.items():
        target = dest / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    return len(files)
