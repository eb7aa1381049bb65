"""Taking in exports: supersession in any order, idempotence, reading again, refusals."""

import shutil
from datetime import timedelta
from itertools import pairwise, permutations
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.unit.warehouse import rows
from warehouse.sql import fetch
from warehouse.store import Store, open_store

#: Exports of one mass that contradict each other in every way the order has to decide: date, no date, same date, and
#: two entries of one export.
EXPORTS: dict[str, list[dict[str, Any]]] = {
    "a": [rows.weighing("a", 100.0, 1)],
    "b": [rows.weighing("b", 101.0, 2)],
    "c": [rows.weighing("c", 102.0, 2)],
    "d": [rows.weighing("d", 103.0, None)],
    "e": [rows.weighing("e", 104.0, None, stated_at=rows.START)],
    "f": [rows.weighing("f", 105.0, 1), rows.weighing("f", 106.0, 1)],
    "g": [rows.weighing("g", 107.0, 1, sample_id="QX-0002"), rows.weighing("g", 108.0, 3, sieve_mm=4.75)],
}


def masses(store: Store) -> list[tuple[str, float | None, str, float]]:
    frame = store.current("weighing").select("sample_id", "sieve_mm", "export_hash", "mass_g")
    return sorted(frame.rows(), key=repr)


def history(store: Store) -> list[tuple[Any, ...]]:
    columns = "export_hash, mass_g, valid_from_run, valid_to_run, superseded_by, withdrawn_run"
    return fetch(store.connection, f"SELECT {columns} FROM weighing ORDER BY ALL").rows()


#: The latest issue wins; of b and c, issued together, the greater hash; of one export, the later line.
CURRENT = [("QX-0001", 4.75, "g", 108.0), ("QX-0001", None, "c", 102.0), ("QX-0002", None, "g", 107.0)]


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(order=st.permutations(sorted(EXPORTS)), cuts=st.sets(st.integers(1, len(EXPORTS) - 1)), data=st.data())
def test_any_order_in_any_number_of_runs_gives_the_same(
    tmp_path_factory: pytest.TempPathFactory, empty: Path, order: list[str], cuts: set[int], data: st.DataObject
) -> None:
    folder = tmp_path_factory.mktemp("order")
    (folder / "store").mkdir()
    shutil.copyfile(empty, folder / "store" / empty.name)
    edges = [0, *sorted(cuts), len(order)]
    with open_store(folder / "store", folder / "series") as store:
        for run_id, (first, last) in enumerate(pairwise(edges), start=1):
            batch = order[first:last]
            frame = pl.concat(rows.traced("weighing", *EXPORTS[name]) for name in batch)
            shuffled = data.draw(st.permutations(range(frame.height)))
            rows.put(store, run_id, *batch, weighing=frame[shuffled])
        assert masses(store) == CURRENT


@pytest.mark.parametrize("order", list(permutations("de")))
def test_a_row_without_any_date_comes_first(store: Store, order: tuple[str, str]) -> None:
    for run_id, name in enumerate(order, start=1):
        rows.put(store, run_id, name, weighing=rows.traced("weighing", *EXPORTS[name]))
    assert masses(store) == [("QX-0001", None, "e", 104.0)]


@pytest.mark.parametrize("order", list(permutations("bs")))
def test_without_an_issue_the_time_of_the_statement_decides(store: Store, order: tuple[str, str]) -> None:
    stated = rows.weighing("s", 50.0, None, stated_at=rows.START + timedelta(hours=3))
    given_rows = {"b": EXPORTS["b"], "s": [stated]}
    for run_id, name in enumerate(order, start=1):
        rows.put(store, run_id, name, weighing=rows.traced("weighing", *given_rows[name]))
    assert masses(store) == [("QX-0001", None, "s", 50.0)]


def test_superseded_row_stays_with_its_period_and_successor(store: Store) -> None:
    rows.put(store, 1, "a", weighing=rows.traced("weighing", *EXPORTS["a"]))
    rows.put(store, 2, "b", weighing=rows.traced("weighing", *EXPORTS["b"]))
    assert history(store) == [("a", 100.0, 1, 2, "b", None), ("b", 101.0, 2, None, None, None)]


def test_row_out_of_date_on_arrival_is_closed_in_its_own_run(store: Store) -> None:
    rows.put(store, 1, "b", weighing=rows.traced("weighing", *EXPORTS["b"]))
    rows.put(store, 2, "a", weighing=rows.traced("weighing", *EXPORTS["a"]))
    assert history(store) == [("a", 100.0, 2, 2, "b", None), ("b", 101.0, 1, None, None, None)]


def test_same_export_again_changes_nothing(store: Store) -> None:
    frame = rows.traced("weighing", *EXPORTS["f"])
    bad = rows.refusals(rows.refusal("f", source_line=7))
    rows.put(store, 1, "f", weighing=frame, refusals=bad)
    before = (
        history(store),
        fetch(store.connection, "FROM refusal").rows(),
        fetch(store.connection, "FROM export").rows(),
    )
    rows.put(store, 2, "f", weighing=frame.reverse(), refusals=bad)
    assert before == (
        history(store),
        fetch(store.connection, "FROM refusal").rows(),
        fetch(store.connection, "FROM export").rows(),
    )
    assert rows_touched(store, 2) == []


def rows_touched(store: Store, run_id: int) -> list[str]:
    return store.touched(run_id)["sample_id"].to_list()


def test_refused_export_taken_up_again(store: Store) -> None:
    bad = rows.refusals(rows.refusal("a", "unknown_kind"))
    store.put(1, rows.exports("a", state="refused"), {}, bad)
    assert store.current("refusal").height == 1
    assert store.known(["a", "z"]) == {"a"}
    store.put(2, rows.exports("a", run_id=2), {"weighing": rows.traced("weighing", *EXPORTS["a"])}, rows.refusals())
    assert store.current("refusal").height == 0
    assert fetch(store.connection, "SELECT valid_from_run, valid_to_run FROM refusal").rows() == [(1, 2)]
    assert masses(store) == [("QX-0001", None, "a", 100.0)]
    export = store.current("export").row(0, named=True)
    assert (export["state"], export["run_id"]) == ("read", 1)
    assert rows_touched(store, 2) == ["QX-0001"]


def test_row_that_vanishes_gives_its_place_back(store: Store) -> None:
    rows.put(store, 1, "a", weighing=rows.traced("weighing", *EXPORTS["a"]))
    rows.put(store, 2, "b", weighing=rows.traced("weighing", *EXPORTS["b"]))
    rows.put(store, 3, "b")
    assert masses(store) == [("QX-0001", None, "a", 100.0)]
    assert history(store) == [
        ("a", 100.0, 1, 2, "b", 3),
        ("a", 100.0, 3, None, None, None),
        ("b", 101.0, 2, 3, None, 3),
    ]
    rows.put(store, 4, "b", weighing=rows.traced("weighing", *EXPORTS["b"]))
    assert masses(store) == [("QX-0001", None, "b", 101.0)]


def test_as_of_any_run_there_is_one_row_of_a_key(store: Store) -> None:
    test_row_that_vanishes_gives_its_place_back(store)
    query = """
        SELECT mass_g FROM weighing
        WHERE valid_from_run <= $1 AND (valid_to_run IS NULL OR valid_to_run > $1)
        """
    found = [fetch(store.connection, query, [run_id])["mass_g"].to_list() for run_id in range(1, 5)]
    assert found == [[100.0], [101.0], [100.0], [101.0]]


def test_corrected_value_of_a_reread_export_replaces_the_old_one(store: Store) -> None:
    rows.put(store, 1, "a", weighing=rows.traced("weighing", *EXPORTS["a"]))
    rows.put(store, 2, "a", weighing=rows.traced("weighing", rows.weighing("a", 99.5, 1)))
    assert history(store) == [("a", 99.5, 2, None, None, None), ("a", 100.0, 1, 2, None, 2)]


def test_refusals_of_other_exports_and_later_stages_stay(store: Store) -> None:
    store.put(1, rows.exports("a", "b"), {}, rows.refusals(rows.refusal("a"), rows.refusal("b")))
    waiting = rows.refusals(rows.refusal("a", "unknown_sample", stage="match", sample_id="QX-0009"))
    store.replace_refusals(waiting, ("match", "derive"), None, 1)
    store.put(2, rows.exports("a"), {}, rows.refusals())
    found = store.current("refusal").select("export_hash", "code").sort("export_hash").rows()
    assert found == [("a", "unknown_sample"), ("b", "not_a_number")]
    assert store.opened("refusal", 1) == 2


def test_refusal_without_export_is_listed_once(store: Store) -> None:
    nameless = rows.refusals(rows.refusal(None, "too_large", stage="intake", found="big.csv"))
    for run_id in (1, 2):
        store.put(run_id, rows.exports(), {}, nameless)
    assert fetch(store.connection, "SELECT valid_from_run, valid_to_run FROM refusal").rows() == [(1, None)]


def test_replace_refusals_keeps_to_its_samples(store: Store) -> None:
    def waits(sample_id: str) -> dict[str, Any]:
        return rows.refusal("a", "unknown_sample", stage="match", sample_id=sample_id)

    store.replace_refusals(rows.refusals(waits("A"), waits("B")), ("match",), None, 1)
    store.replace_refusals(rows.refusals(), ("match",), rows.subjects("A"), 2)
    store.replace_refusals(rows.refusals(), ("derive",), None, 3)
    assert store.current("refusal")["sample_id"].to_list() == ["B"]


def test_rows_of_a_stranger_export_are_a_fault_and_nothing_is_kept(store: Store) -> None:
    with pytest.raises(ValueError, match="'weighing' has rows of an export that was not handed in: a"):
        store.put(1, rows.exports("b"), {"weighing": rows.traced("weighing", *EXPORTS["a"])}, rows.refusals())
    assert store.current("export").is_empty()


def test_only_imported_records_are_put(store: Store) -> None:
    with pytest.raises(ValueError, match="'judgement' is not a record an importer gives"):
        store.put(1, rows.exports("b"), {"judgement": pl.DataFrame()}, rows.refusals())


def test_a_fault_in_the_middle_keeps_nothing(store: Store) -> None:
    wrong = rows.traced("core", {"export_hash": "a", "sample_id": "QX-0001", "specimen_no": None})
    frames = {"weighing": rows.traced("weighing", *EXPORTS["a"]), "core": wrong}
    with pytest.raises(Exception, match="NOT NULL"):
        store.put(1, rows.exports("a"), frames, rows.refusals())
    assert store.current("export").is_empty()
    assert store.current("weighing").is_empty()
    rows.put(store, 1, "a", weighing=frames["weighing"])
    assert store.current("weighing").height == 1


def test_run_numbers_go_on(store: Store) -> None:
    assert store.next_run() == 1
    rows.put(store, 4, "a", weighing=rows.traced("weighing", *EXPORTS["a"]))
    assert store.next_run() == 5
    store.replace("property_value", rows.figures(rows.figure("X", "gmb", 2.4)), rows.subjects("X"), 9)
    assert store.next_run() == 10


def test_run_and_arrivals_are_recorded(store: Store) -> None:
    run = {"run_id": 1, "started_at": rows.START, "version": "0", "importers": "x", "exports_new": 1}
    frame = pl.DataFrame([{**run, "rows_accepted": 0, "rows_refused": 0}])
    store.record_run(frame)
    store.record_run(frame.with_columns(finished_at=pl.lit(rows.START)))
    assert store.current("run").select("run_id", "finished_at").rows() == [(1, rows.START)]
    store.put(1, rows.exports("a", "b"), {}, rows.refusals())
    store.count_arrivals(pl.DataFrame({"export_hash": ["a"], "arrivals": [3]}))
    assert store.current("export").sort("export_hash")["arrivals"].to_list() == [3, 1]


def test_store_keeps_what_was_committed_and_only_that(workspace: Path) -> None:
    with open_store(workspace / "store", workspace / "series") as store:
        rows.put(store, 1, "a", weighing=rows.traced("weighing", *EXPORTS["a"]))
        store.begin()
        store.put(2, rows.exports("b"), {"weighing": rows.traced("weighing", *EXPORTS["b"])}, rows.refusals())
        assert masses(store) == [("QX-0001", None, "b", 101.0)]
    with open_store(workspace / "store", workspace / "series") as store:
        assert masses(store) == [("QX-0001", None, "a", 100.0)]


def test_current_keeps_to_the_samples_asked_for(store: Store) -> None:
    rows.put(store, 1, "c", "g", weighing=rows.traced("weighing", *EXPORTS["g"], *EXPORTS["c"]))
    assert store.current("weighing", rows.subjects("QX-0002"))["mass_g"].to_list() == [107.0]
    assert store.current("weighing", rows.subjects()).is_empty()
    assert store.current("export", rows.subjects("QX-0002")).height == 2
