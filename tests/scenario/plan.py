"""Turn the data files into the plan: laboratories, mixes, and every sample of the season with label and day."""

import tomllib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any

DATA = Path(__file__).parent / "data"


def read(name: str) -> dict[str, Any]:
    """Return the content of one data file of the scenario."""
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


@dataclass(frozen=True)
class Mix:
    """A mix with its revisions, as the data file gives it."""

    given: dict[str, Any]
    project: dict[str, Any]

    @property
    def id(self) -> str:
        """Short name."""
        return str(self.given["id"])

    def revision(self, day: date) -> tuple[int, dict[str, Any]]:
        """Return number and content of the revision valid on a day."""
        valid = [(n, r) for n, r in enumerate(self.given["revisions"], start=1) if r["valid_from"] <= day]
        return valid[-1]

    def stockpiles(self, revision: dict[str, Any]) -> list[dict[str, Any]]:
        """Stockpiles of a revision; none where its card states no blend."""
        return self.given["stockpiles"][revision["stockpiles"]] if "stockpiles" in revision else []

    @cached_property
    def gradation(self) -> dict[float, float]:
        """Target passing (%) by sieve (mm), coarse to fine."""
        return {float(sieve): passing for sieve, passing in self.given["gradation"].items()}


@dataclass(frozen=True)
class Sample:
    """A sample as planned; `progress` runs from 0 at the first to 1 at the last production sublot of the mix."""

    label: str
    mix: Mix
    material: str
    phase: str
    taken_on: date
    lot: str | None = None
    sublot: str | None = None
    tonnage: float | None = None
    progress: float = 0.0
    tracked: bool = False
    slot: int = 0
    split_of: "Sample | None" = None

    @property
    def laboratory(self) -> str:
        """Laboratory that tests it: the one in charge of the project, or the one that got the other half."""
        return str(self.mix.given["split"]["laboratory"] if self.split_of else self.mix.project["laboratory"])


@dataclass(frozen=True)
class Plan:
    """The whole season."""

    laboratories: dict[str, dict[str, Any]]
    instruments: list[dict[str, Any]]
    projects: list[dict[str, Any]]
    mixes: list[Mix]
    samples: list[Sample]


def workday(day: date) -> date:
    """Return the day itself, or the Monday after a weekend."""
    return day + timedelta(days=max(0, 7 - day.weekday()) if day.weekday() > 4 else 0)


def next_workday(day: date) -> date:
    """Return the next day that is not on a weekend."""
    return workday(day + timedelta(days=1))


def _production(mix: Mix) -> Iterator[dict[str, Any]]:
    given = mix.given
    total = sum(given["lots"])
    done = 0
    pause = given.get("pause", {"before_lot": 0, "days": 0})
    for lot, sublots in enumerate(given["lots"], start=1):
        stood = pause["days"] if pause["before_lot"] and lot >= pause["before_lot"] else 0
        for sublot in range(1, sublots + 1):
            day = workday(given["production"] + timedelta(days=given["step_days"] * done + stood))
            done += 1
            yield {
                "material": "mix",
                "taken_on": day,
                "lot": str(lot),
                "sublot": str(sublot),
                "tonnage": given["sublot_t"] * done,
                "progress": (done - 1) / (total - 1),
                "tracked": sublot == 1 and lot in given["wheel_lots"],
            }
        yield {
            "material": "core",
            "taken_on": next_workday(day),
            "lot": str(lot),
            "tonnage": given["sublot_t"] * done,
            "progress": (done - 1) / (total - 1),
        }


def _season(mix: Mix) -> Iterator[dict[str, Any]]:
    given = mix.given
    yield {"material": "mix", "phase": "verification", "taken_on": workday(given["verification"]), "tracked": True}
    yield {
        "material": "mix",
        "phase": "startup",
        "taken_on": workday(given["startup"]),
        "tonnage": 0.5 * given["sublot_t"],
        "tracked": True,
    }
    yield from ({"phase": "production", **sample} for sample in _production(mix))


def _labelled(mixes: list[Mix]) -> Iterator[Sample]:
    """Number the samples of each laboratory in the order in which they were taken."""
    taken = [(mix, fields) for mix in mixes for fields in _season(mix)]
    taken.sort(key=lambda pair: (pair[1]["taken_on"], pair[0].id, pair[1]["material"]))
    numbers: Counter[str] = Counter()
    slots: Counter[tuple[str, date]] = Counter()
    for mix, fields in taken:
        laboratory = mix.project["laboratory"]
        numbers[laboratory] += 1
        slots[laboratory, fields["taken_on"]] += 1
        slot = slots[laboratory, fields["taken_on"]] - 1
        yield Sample(label=f"{laboratory}-{numbers[laboratory]:04d}", mix=mix, slot=slot, **fields)


def _halves(samples: list[Sample]) -> Iterator[Sample]:
    """Yield the other halves of the production samples that are split with another laboratory."""
    queued = Counter((sample.laboratory, sample.taken_on) for sample in samples)
    numbers: Counter[str] = Counter()
    for sample in samples:
        split = sample.mix.given.get("split")
        if split and (sample.material, sample.phase) == ("mix", "production"):
            numbers[split["laboratory"]] += 1
            label = f"{split['laboratory']}-{split['first'] + numbers[split['laboratory']] - 1:04d}"
            slot = queued[split["laboratory"], sample.taken_on]
            yield replace(sample, label=label, tracked=False, slot=slot, split_of=sample)


def _stockpiles(mixes: dict[str, Mix]) -> Iterator[Sample]:
    """Yield the samples of the aggregate blends."""
    for one in read("aggregates")["sample"]:
        yield Sample(
            label=one["label"],
            mix=mixes[one["mix"]],
            material="aggregate",
            phase="verification",
            taken_on=one["taken_on"],
        )


def plan() -> Plan:
    """Return the plan of the season; it does not depend on the seed."""
    houses, works = read("laboratories"), read("projects")
    projects = {project["id"]: project for project in works["project"]}
    mixes = [Mix(given, projects[given["project"]]) for given in works["mix"]]
    samples = list(_labelled(mixes))
    return Plan(
        laboratories={house["id"]: house for house in houses["laboratory"]},
        instruments=houses["instrument"],
        projects=works["project"],
        mixes=mixes,
        samples=[*samples, *_halves(samples), *_stockpiles({mix.id: mix for mix in mixes})],
    )
