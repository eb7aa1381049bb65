"""One demo export of each importer gives exactly the records kept in tests/expected."""

import tomllib

import pytest

from tests.unit.plugins.examples import importers
from tests.unit.plugins.golden import EXPECTED, MANIFEST, chosen, records, sha256


def test_each_importer_has_expected_records() -> None:
    assert set(chosen()) == set(importers())


@pytest.mark.parametrize("name", sorted(importers()))
def test_expected_records(name: str) -> None:
    path = chosen()[name]
    kept = tomllib.loads(MANIFEST.read_text("utf-8"))["export"][name]["sha256"]
    assert sha256(path) == kept, "the export changed: see python -m tests.unit.plugins.golden"
    found = records(name, path)
    files = {file.name for file in (EXPECTED / name).iterdir()}
    assert files == {f"{path.name}.{record}.csv" for record in found}
    for record, text in found.items():
        assert text == (EXPECTED / name / f"{path.name}.{record}.csv").read_text("utf-8"), record
