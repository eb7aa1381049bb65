"""Touched samples: what changed, and all that rests on it; nothing else."""

from datetime import date

import pytest

from tests.unit.warehouse import rows
from warehouse.store import Store
from warehouse.touched import under_changed_sets

EARLY = date(2026, 1, 1)


@pytest.fixture
def register(store: Store) -> Store:
    """Give a store with two lots of M-12, one sample of another mix, and one of another project."""
    samples = rows.traced(
        "sample",
        rows.sample("r", "A", lot="1"),
        rows.sample("r", "B", lot="1"),
        rows.sample("r", "C", lot="2"),
        rows.sample("r", "D", mix_id="M-19"),
        rows.sample("r", "E", project_id="shore road", lot="1"),
    )
    projects = rows.traced(
        "project",
        *(
            {"export_hash": "r", "project_id": name, "project_name": name, "laboratory_id": "QX", "set_id": limits}
            for name, limits in (("ridge road", "S-1"), ("shore road", "S-2"))
        ),
    )
    rows.put(store, 1, "r", sample=samples, project=projects)
    return store


def touched(store: Store, run_id: int) -> list[str]:
    return store.touched(run_id)["sample_id"].to_list()


def test_the_register_itself_touches_its_samples(register: Store) -> None:
    assert touched(register, 1) == ["A", "B", "C", "D", "E"]
    assert touched(register, 2) == []


def test_a_weighing_touches_its_sample_and_the_lot(register: Store) -> None:
    rows.put(register, 2, "w", weighing=rows.traced("weighing", rows.weighing("w", 1.0, 1, sample_id="A")))
    assert touched(register, 2) == ["A", "B"]


def test_samples_the_register_does_not_know(register: Store) -> None:
    rows.put(register, 2, "w", weighing=rows.traced("weighing", rows.weighing("w", 1.0, 1, sample_id="Z")))
    assert touched(register, 2) == ["Z"]


def test_a_mix_design_touches_every_sample_of_the_mix(register: Store) -> None:
    rows.put(register, 2, "m", mix_design=rows.traced("mix_design", rows.design("m", 1, EARLY)))
    assert touched(register, 2) == ["A", "B", "C", "E"]


def test_a_target_gradation_touches_every_sample_of_the_mix(register: Store) -> None:
    sieve = {"export_hash": "m", "mix_id": "M-19", "revision": 1, "sieve_mm": 4.75, "passing_pct": 50.0}
    rows.put(register, 2, "m", mix_gradation=rows.traced("mix_gradation", sieve))
    assert touched(register, 2) == ["D"]


def test_a_project_touches_its_samples(register: Store) -> None:
    project = {"export_hash": "p", "project_id": "shore road", "project_name": "x", "laboratory_id": "QX"}
    rows.put(register, 2, "p", project=rows.traced("project", project))
    assert touched(register, 2) == ["E"]


def test_a_limit_touches_the_samples_of_the_projects_that_name_its_set(register: Store) -> None:
    limit = {"export_hash": "s", "set_id": "S-2", "limit_id": "1", "property": "gmb", "material": "mix"}
    more = {"basis": "absolute", "required": True, "source": "invented"}
    rows.put(register, 2, "s", specification_limit=rows.traced("specification_limit", limit | more))
    assert touched(register, 2) == []  # its figures stand
    assert under_changed_sets(register.connection, 2)["sample_id"].to_list() == ["E"]


def test_a_sample_that_changes_lots_touches_both_lots(register: Store) -> None:
    moved = rows.traced("sample", rows.sample("t", "A", lot="2", issued_at=rows.START))
    rows.put(register, 2, "t", sample=moved)
    assert touched(register, 2) == ["A", "B", "C"]


def test_a_withdrawn_row_touches_its_sample(register: Store) -> None:
    rows.put(register, 2, "w", weighing=rows.traced("weighing", rows.weighing("w", 1.0, 1, sample_id="C")))
    rows.put(register, 3, "w")
    assert touched(register, 3) == ["C"]


def test_series_that_changed_below_an_unchanged_header(register: Store) -> None:
    rows.put(register, 2, "h", **rows.heights("h", "C", [120.0, 119.0]))
    changed = rows.heights("h", "C", [120.0, 118.0])
    rows.put(register, 3, "h", **changed)
    assert touched(register, 3) == ["C"]
    rows.put(register, 4, "h", compaction_run=changed["compaction_run"])
    assert touched(register, 4) == ["C"]


def test_an_instrument_touches_the_samples_weighed_on_it(register: Store) -> None:
    weighings = [rows.weighing("w", 1.0, 1, sample_id="D") | {"instrument_id": "B-1"}, rows.weighing("w", 1.0, 2)]
    rows.put(register, 2, "w", weighing=rows.traced("weighing", *weighings))
    balance = {"export_hash": "i", "instrument_id": "B-1", "laboratory_id": "QX", "kind": "balance"}
    rows.put(register, 3, "i", instrument=rows.traced("instrument", balance))
    assert touched(register, 3) == ["D"]
