"""Readers of our own for the scenario's tests: independent of the generator's writers and of the importers."""

import csv
import json
import re
import tomllib
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

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


@pytest.fixture(scope="session")
def weighings() -> Weighings:
    """(sample, piece, test) -> weighed word -> g; `water` is in °C, `pressure` in kPa."""
    found: Weighings = defaultdict(dict)
    for key, weighed, value in [*_journals(), *_slips()]:
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
    return [*map(_document, documents), *map(_report, reports)]


@pytest.fixture(scope="session")
def mixes() -> dict[tuple[str, int], dict[str, Any]]:
    """(mix, revision) -> mix card."""
    cards = [tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted((EXPORTS / "mix_card").iterdir())]
    return {(card["mix"], card["revision"]): card for card in cards}
