"""Results: equal ones keep their validity, changed and vanished ones are closed, new ones opened."""

from typing import Any

import polars as pl
import pytest

from schemas.describe import describe
from tests.unit.warehouse import rows
from warehouse.sql import fetch
from warehouse.store import Store


def history(store: Store) -> list[tuple[Any, ...]]:
    query = 'SELECT sample_id, property, "point", value, valid_from_run, valid_to_run FROM property_value ORDER BY ALL'
    return fetch(store.connection, query).rows()


def test_history_of_replaced_values(store: Store) -> None:
    first = rows.figures(
        rows.figure("A", "gmb", 2.4),
        rows.figure("A", "vma", None, withheld="Gsb is missing"),
        rows.figure("B", "gmb", 2.3),
    )
    store.replace("property_value", first, rows.subjects("A", "B"), 1)
    second = rows.figures(
        rows.figure("A", "gmb", 2.4), rows.figure("A", "vma", 15.2), rows.figure("A", "passing", 5.0, point=0.075)
    )
    store.replace("property_value", second, rows.subjects("A"), 2)
    assert history(store) == [
        ("A", "gmb", None, 2.4, 1, None),
        ("A", "passing", 0.075, 5.0, 2, None),
        ("A", "vma", None, 15.2, 2, None),
        ("A", "vma", None, None, 1, 2),
        ("B", "gmb", None, 2.3, 1, None),
    ]
    store.replace("property_value", rows.figures(), rows.subjects("A"), 3)
    assert store.current("property_value").select("sample_id", "value").rows() == [("B", 2.3)]


def test_equal_results_leave_no_trace(store: Store) -> None:
    frame = rows.figures(rows.figure("A", "gmb", 0.1 + 0.2), rows.figure("A", "gmm", None, withheld="x"))
    store.replace("property_value", frame, rows.subjects("A"), 1)
    before = history(store)
    store.replace("property_value", frame.reverse(), rows.subjects("A"), 2)
    assert history(store) == before


@pytest.mark.parametrize(
    "column", ["value", "withheld", "route", "formula_version", "flags", "n", "spread", "parameters"]
)
def test_any_column_makes_a_difference(store: Store, column: str) -> None:
    frame = rows.figures(rows.figure("A", "gmb", 2.4))
    store.replace("property_value", frame, rows.subjects("A"), 1)
    change = 7 if column in ("value", "n", "spread") else "other"
    store.replace(
        "property_value", frame.with_columns(pl.lit(change).alias(column)).cast(frame.schema), rows.subjects("A"), 2
    )
    assert [row[-2:] for row in history(store)] in ([(1, 2), (2, None)], [(2, None), (1, 2)])


def test_floats_are_compared_exactly(store: Store) -> None:
    store.replace("property_value", rows.figures(rows.figure("A", "gmb", 0.3)), rows.subjects("A"), 1)
    store.replace("property_value", rows.figures(rows.figure("A", "gmb", 0.1 + 0.2)), rows.subjects("A"), 2)
    assert len(history(store)) == 2


def test_judgements_likewise(store: Store) -> None:
    schema = {n: t for n, t in describe("judgement").schema().items() if not n.startswith("valid_")}
    verdict = {"sample_id": "A", "set_id": "S", "limit_id": "1", "property": "gmb", "value": 2.4, "verdict": "pass"}
    store.replace("judgement", pl.DataFrame([verdict], schema=schema), rows.subjects("A"), 1)
    store.replace("judgement", pl.DataFrame([verdict | {"verdict": "fail"}], schema=schema), rows.subjects("A"), 2)
    assert store.current("judgement")["verdict"].to_list() == ["fail"]
    assert fetch(store.connection, "FROM judgement").height == 2


def test_results_of_another_sample_are_a_fault(store: Store) -> None:
    with pytest.raises(ValueError, match="'property_value' has results of a sample that was not computed: B"):
        store.replace("property_value", rows.figures(rows.figure("B", "gmb", 2.4)), rows.subjects("A"), 1)
