"""Readers of our own for the scenario's tests: independent of the generator's writers and of the importers."""

import csv
import json
import re
import tomllib
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest

EXPORTS = Path(__file__).parents[3] / "sample_exports"

Weighings = dict[tuple[str, str, str], dict[str, Any]]

_WORDS = {
    "DRY IN AIR": "dry",
    "IN WATER": "in water",
    "SURFACE DRY": "surface dry",
    "VESSEL SUNK": "vessel sunk",
    "VESSEL AND MIX SUNK": "vessel and mix sunk",
    "VESSEL FULL": "vessel full",
    "VESSEL AND MIX": "vessel and mix",
    "BEFORE BURN": "before burn",
    "AFTER BURN": "after burn",
    "WATER": "water",
    "PRESSURE": "pressure",
}


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _journals() -> Iterator[tuple[tuple[str, str, str], str, float]]:
    for path in sorted((EXPORTS / "balance_journal").iterdir()):
        rows = csv.reader(path.read_text(encoding="cp1252").splitlines()[4:], delimiter=";")
        for row in rows:
            if row[0] == "End" or row[7].endswith("x"):
                continue
            weighed = f"{row[5]} {_number(row[6]):g}" if row[6] else row[5]
            yield (row[2], row[3], row[4]), weighed, _number(row[7])
            if row[8]:
                yield (row[2], row[3], row[4]), "water", _number(row[8])


def _slips() -> Iterator[tuple[tuple[str, str, str], str, float]]:
    for path in sorted((EXPORTS / "balance_slip").iterdir()):
        for block in re.split(r"^\+-+\+\n", path.read_text(encoding="ascii"), flags=re.MULTILINE):
            fields = dict(re.findall(r"^([A-Z ]+?)  +(.+)$", block, flags=re.MULTILINE))
            if not fields:
                continue
            key = (fields["SAMPLE"], fields["PORTION"], fields["TEST"].split(",")[0])
            for label, value in fields.items():
                if label in _WORDS:
                    yield key, _WORDS[label], float(value.split()[0])


def _furnaces() -> Iterator[tuple[tuple[str, str, str], str, float]]:
    charge = re.compile(r"CHARGE (\S+)   PART (\S+)\n.*\n  WENT IN +(\S+) g   CAME OUT +(\S+) g")
    for path in sorted((EXPORTS / "furnace_sheet").iterdir()):
        for sample, part, before, after in charge.findall(path.read_text(encoding="ascii")):
            yield (sample, part, "burn"), "before burn", float(before)
            yield (sample, part, "burn"), "after burn", float(after)


def _shakers() -> Iterator[tuple[tuple[str, str, str], str, float]]:
    for path in sorted((EXPORTS / "shaker_log").iterdir()):
        rows = list(csv.reader(path.read_text(encoding="utf-8").splitlines()))
        words = {"Unwashed g": "before wash", "Washed g": "after wash", "Pan g": "on sieve 0"}
        for row in rows[3:-1]:
            for name, mass in zip(rows[2][4:], row[4:], strict=True):
                if mass:
                    weighed = words.get(name) or "on sieve " + name.split()[1]
                    yield (row[0], row[1], "sieving"), weighed, float(mass)


def _books() -> Iterator[tuple[tuple[str, str, str], str, float]]:
    for path in sorted((EXPORTS / "balance_book").iterdir()):
        rows = openpyxl.load_workbook(path)["Flask day"].iter_rows(min_row=6, values_only=True)
        for sample, part, _, *found in rows:
            if sample != "portions":
                names = ("dry", "vessel full", "vessel and mix", "water", "pressure")
                for weighed, mass in zip(names, found, strict=True):
                    yield (str(sample), str(part), "maximum"), weighed, float(str(mass))


@pytest.fixture(scope="session")
def weighings() -> Weighings:
    """(sample, piece, test) -> weighed word -> g; `water` is in °C, `pressure` in kPa."""
    found: Weighings = defaultdict(dict)
    for key, weighed, value in [*_journals(), *_slips(), *_furnaces(), *_shakers(), *_books()]:
        found[key][weighed] = value
    return dict(found)


def _report(path: Path) -> dict[str, Any]:
    head, table = path.read_text(encoding="utf-8").split("\n\n")
    fields = dict(line.split(" = ") for line in head.splitlines()[1:])
    heights = [float(line.split()[1]) for line in table.splitlines()[1:-1]]
    return {
        "sample": fields["sample"],
        "piece": fields["piece"],
        "gyrations": int(fields["gyrations"]),
        "pressure": float(fields["pressure kPa"]),
        "angle": float(fields["angle deg"]),
        "rate": float(fields["speed 1/min"]),
        "heights": heights,
    }


def _document(path: Path) -> dict[str, Any]:
    given = json.loads(path.read_text(encoding="utf-8"))
    return {
        "sample": given["specimen"]["sample"],
        "piece": given["specimen"]["piece"],
        "gyrations": given["gyrations"],
        "pressure": given["settings"]["pressure_kPa"],
        "angle": given["settings"]["angle_deg"],
        "rate": given["settings"]["rate_per_min"],
        "heights": given["heights_mm"],
    }


def _tape(path: Path) -> Iterator[dict[str, Any]]:
    for block in path.read_text(encoding="ascii").split("PIECE ")[1:]:
        sample, piece = block.split()[0].split("/")
        numbers = {unit: float(value) for value, unit in re.findall(r"([\d.]+) (PSI|DEG|TURNS/MIN)", block)}
        rows = re.findall(r"^ +(\d+) +([\d.]+)$", block, flags=re.MULTILINE)
        yield {
            "sample": sample,
            "piece": piece,
            "gyrations": int(block.split()[-1]),
            "pressure": numbers["PSI"] * 6.894757,
            "angle": numbers["DEG"],
            "rate": numbers["TURNS/MIN"],
            "heights": [25.4 * float(height) for _, height in rows],
        }


@pytest.fixture(scope="session")
def troubles() -> list[dict[str, Any]]:
    """The list of troubles."""
    text = (EXPORTS.parent / "tests" / "scenario" / "troubles.toml").read_text(encoding="utf-8")
    return list(tomllib.loads(text)["trouble"])


@pytest.fixture(scope="session")
def compactions(troubles: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Every compaction whose export is whole."""
    torn = {trouble["file"] for trouble in troubles if trouble["kind"] == "truncated"}
    documents = [path for path in sorted((EXPORTS / "press_json").iterdir()) if f"press_json/{path.name}" not in torn]
    reports = sorted((EXPORTS / "press_report").iterdir())
    tapes = [run for path in sorted((EXPORTS / "press_tape").iterdir()) for run in _tape(path)]
    return [*map(_document, documents), *map(_report, reports), *tapes]


@pytest.fixture(scope="session")
def mixes() -> dict[tuple[str, int], dict[str, Any]]:
    """(mix, revision) -> mix card."""
    cards = [tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted((EXPORTS / "mix_card").iterdir())]
    for path in sorted((EXPORTS / "mix_book").iterdir()):
        book = dict(openpyxl.load_workbook(path)["Design"].iter_rows(values_only=True))
        names = {
            "mix": "Mix",
            "revision": "Issue",
            "gsb": "Aggregate bulk gravity",
            "nmas_mm": "Largest nominal size, mm",
            "vma_pct": "Voids in mineral aggregate, %",
        }
        cards.append({key: book[label] for key, label in names.items()})
    return {(card["mix"], card["revision"]): card for card in cards}
