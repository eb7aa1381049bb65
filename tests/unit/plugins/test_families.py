"""Every record that may be handed in has a shipped importer, and the demo's exports show it at work."""

from functools import cache

import pytest

from plugins.api import Export
from schemas import describe
from tests.unit.plugins.examples import importers
from tests.unit.plugins.golden import EXPORTS

IMPORTED = [each.name for each in describe.describe_all() if each.imported]
#: What the demo shows of the records that serve many methods: importer -> methods of its rows.
METHODS = {
    "aggregate_book": {"t27", "t84", "t85", "t176", "t304", "t335", "d4791"},
    "balance_journal": {"t30", "t166", "t209", "t245", "t247", "t269", "t283", "t308"},
    "balance_slip": {"t164", "t166", "t209", "t308"},
    "blow_record": {"t245", "t247"},
    "caliper_log": {"d3549", "t269"},
    "core_log": {"d3549"},
    "oven_pans": {"t329"},
}


@cache
def shown(name: str) -> dict[str, set[str]]:
    """Return record -> methods in the demo's exports of one importer."""
    reading = importers()[name].read([Export.from_path(path) for path in sorted((EXPORTS / name).iterdir())])
    return {
        record: set(frame["method"]) if "method" in frame.columns else set()
        for record, frame in reading.frames.items()
        if frame.height
    }


def giving(record: str) -> list[str]:
    """Return the importers that hand in a record."""
    return [name for name, importer in importers().items() if record in importer.gives]


@pytest.mark.parametrize("record", IMPORTED)
def test_a_record_has_a_shipped_importer(record: str) -> None:
    assert giving(record), f"no shipped importer hands in '{record}'"


@pytest.mark.parametrize("record", IMPORTED)
def test_the_demo_shows_each_record(record: str) -> None:
    assert any(record in shown(name) for name in giving(record))


@pytest.mark.parametrize("name", METHODS)
def test_the_demo_shows_every_method_of_an_importer(name: str) -> None:
    assert set().union(*shown(name).values()) == METHODS[name]
