"""Which revision of a mix design holds is stated in SQL for readers and in polars for formulas: both agree."""

from datetime import date

import polars as pl
import pytest

from pipeline.derive.revisions import with_revision
from schemas.describe import describe
from tests.unit.warehouse import rows as made
from warehouse.sql import fetch
from warehouse.store import open_store

REVISIONS = {1: date(2026, 3, 1), 2: date(2026, 6, 1), 3: date(2026, 5, 1), 4: date(2026, 6, 1)}
DAYS = {
    "before all": date(2026, 1, 1),
    "first day": date(2026, 3, 1),
    "between": date(2026, 4, 30),
    "third": date(2026, 5, 20),
    "two on one day": date(2026, 6, 1),
    "long after": date(2027, 1, 1),
}
EXPECTED = {"before all": 1, "first day": 1, "between": 1, "third": 3, "two on one day": 4, "long after": 4}


def frame(record: str, given: list[dict[str, object]]) -> pl.DataFrame:
    base = {"export_hash": "e", "source_line": 1}
    return pl.DataFrame([base | each for each in given], schema=describe(record).schema())


@pytest.fixture(scope="module")
def register() -> dict[str, pl.DataFrame]:
    fixed = {"mix_id": "M", "nmas_mm": 12.5}
    designs = [fixed | {"revision": number, "valid_from": day} for number, day in REVISIONS.items()]
    sample = {"project_id": "P", "mix_id": "M", "material": "mix", "phase": "production", "laboratory_id": "L"}
    samples = [sample | {"sample_id": name, "taken_on": day} for name, day in DAYS.items()]
    return {"mix_design": frame("mix_design", designs), "sample": frame("sample", samples)}


def test_for_the_formulas(register: dict[str, pl.DataFrame]) -> None:
    found = with_revision(register["sample"], register["mix_design"])
    assert dict(found.select("sample_id", "revision").iter_rows()) == EXPECTED


def test_for_readers(register: dict[str, pl.DataFrame], tmp_path) -> None:
    with open_store(tmp_path / "store", tmp_path / "series") as store:
        store.put(1, made.exports("e"), register, made.NO_REFUSALS)
        found = fetch(store.connection, "select sample_id, revision from samples")
    assert dict(found.iter_rows()) == EXPECTED
