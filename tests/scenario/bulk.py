"""Writes many exports of the same formats for benchmarks: the scenario's mixes, any number of samples."""

from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from itertools import chain, count, cycle, islice
from pathlib import Path

import numpy as np

from tests.scenario import office
from tests.scenario.bench import Bench
from tests.scenario.formats.book import book
from tests.scenario.loose import run_loose_mix
from tests.scenario.plan import Mix, Plan, Sample, plan, workday

#: Labels start here, clear of the samples that troubles strike.
_FIRST_LABEL = 1001
#: From this day on every mix has a valid revision.
_FIRST_DAY = date(2026, 7, 20)
_DAYS = 140
_SUBLOTS = 4
#: How an instrument exports in the season -> how it does here: the formats the benchmarks have been measured with.
_AS_BENCHED = {
    "xml": "table",
    "store": "table",
    "tape": "report",
    "furnace": "journal",
    "shaker": "journal",
    "book flask": "slip flask",
}
#: Loose-mix samples between two wheel tests: about one export in fifty.
_TRACKED_EVERY = 10


def _samples(mixes: list[Mix]) -> Iterator[Sample]:
    """Yield samples for ever: the mixes in turn, four sublots a lot, the days of half a year over and over."""
    labels: Counter[str] = Counter()
    taken: Counter[str] = Counter()
    for number, mix in zip(count(), cycle(mixes)):
        laboratory = mix.project["laboratory"]
        lot, sublot = divmod(taken[mix.id], _SUBLOTS)
        taken[mix.id] += 1
        yield Sample(
            label=f"{laboratory}-{_FIRST_LABEL + labels[laboratory]:04d}",
            mix=mix,
            material="mix",
            phase="production",
            taken_on=workday(_FIRST_DAY + timedelta(days=number % _DAYS)),
            lot=str(lot + 1),
            sublot=str(sublot + 1),
            tonnage=float(mix.given["sublot_t"] * taken[mix.id]),
            tracked=number % _TRACKED_EVERY == 0,
        )
        labels[laboratory] += 1


def _exports(season: Plan, sample: Sample, seed: int, number: int) -> Iterator[tuple[str, bytes]]:
    """Yield the exports of one sample; its journals and slips hold nothing else."""
    rng = np.random.Generator(np.random.PCG64([seed, number]))
    house = season.laboratories[sample.laboratory]
    ways = {key: _AS_BENCHED.get(way, way) if isinstance(way, str) else way for key, way in house.items()}
    bench = Bench(ways)
    run_loose_mix(bench, sample, rng)
    for path, content in bench.close().items():
        folder, name = path.split("/")
        yield f"{folder}/{name if sample.label in name else f'{sample.label}-{name}'}", content


def _tested(season: Plan, seed: int, known: list[Sample]) -> Iterator[tuple[str, bytes]]:
    for number, sample in enumerate(_samples(season.mixes)):
        known.append(sample)
        yield from _exports(season, sample, seed, number)


def write(dest: Path, exports: int, seed: int = 1) -> None:
    """Write `exports` exports below `dest`: register, cards, then sample after sample.

    The last sample may lack some of its exports, so that the number is exact.

    Raises
    ------
    ValueError
        When `exports` is too small to hold the register and the cards.
    """
    season = plan()
    office_files = {**dict(office.mix_cards(season)), **dict(office.limits_cards())}
    opening = dict(office.books(Plan(season.laboratories, season.instruments, season.projects, [], []), {}))
    left = exports - len(office_files) - len(opening) - 1
    if left < 0:
        raise ValueError(f"{exports} exports cannot hold the register and the cards: ask for at least {exports - left}")
    known: list[Sample] = []
    for path, content in chain({**office_files, **opening}.items(), islice(_tested(season, seed, known), left)):
        target = dest / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    rows = [office.sample_row(sample) for sample in known]
    register = dest / "register_book" / "register-samples.xlsx"
    register.write_bytes(book(datetime(2026, 12, 31, 16, 30), {"Samples": rows}))
