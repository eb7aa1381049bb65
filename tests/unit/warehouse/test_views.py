"""Views: headers, order, and what each of them shows."""

from datetime import date

import duckdb
import polars as pl
import pytest

from tests.unit.warehouse import rows
from warehouse import views
from warehouse.sql import fetch
from warehouse.store import Store

PROPERTIES = pl.DataFrame(
    {
        "property": ["gmb", "passing"],
        "symbol": ["Gmb", None],
        "name": ["bulk specific gravity", "passing"],
        "unit": [None, "%"],
        "decimals": [3, 1],
    }
)
FLAGS = pl.DataFrame({"code": ["hot"], "sentence": ["Water too warm."], "limit_text": [None], "source": [None]})
COLUMNS = pl.DataFrame(
    {
        "property": ["gmb", "passing"],
        "point": [None, 0.075],
        "column_name": ["gmb", "passing_0_075_pct"],
        "sentence": ["Bulk specific gravity.", "Passing 0.075 mm."],
        "unit": [None, "%"],
    }
)


def test_results_side_by_side(store: Store) -> None:
    store.describe_properties(PROPERTIES, FLAGS, COLUMNS)
    rows.put(store, 1, "r", sample=rows.traced("sample", rows.sample("r", "A"), rows.sample("r", "B")))
    values = rows.figures(
        rows.figure("A", "gmb", 2.4),
        rows.figure("A", "gmb", 2.5, level="specimen", method="t166", specimen_no="1"),
        rows.figure("A", "passing", 5.1, point=0.075),
        rows.figure("A", "passing", 50.0, point=4.75),
    )
    store.replace("property_value", values, rows.subjects("A"), 1)
    found = fetch(store.connection, "SELECT sample_id, gmb, passing_0_075_pct FROM sample_results ORDER BY 1").rows()
    assert found == [("A", 2.4, 5.1), ("B", None, None)]
    comment = "SELECT comment FROM duckdb_columns() WHERE table_name = 'sample_results' AND column_name = ?"
    assert fetch(store.connection, comment, ["passing_0_075_pct"]).item() == "Passing 0.075 mm. Unit: %."


def test_catalogue_is_shown_beside_values_and_views_are_made_anew_only_when_it_changes(store: Store) -> None:
    store.describe_properties(PROPERTIES, FLAGS, COLUMNS)
    assert not views.refresh(store.connection)
    store.describe_properties(PROPERTIES, FLAGS, COLUMNS.head(1))
    assert fetch(store.connection, "FROM sample_results").columns[-1] == "gmb"
    missing = rows.figure("A", "passing", None, withheld="no wash", point=0.075)
    store.replace("property_value", rows.figures(rows.figure("A", "gmb", 2.4), missing), rows.subjects("A"), 1)
    shown = fetch(store.connection, "SELECT property, value, unit, symbol, decimals FROM property_values").rows()
    assert shown == [("gmb", 2.4, None, "Gmb", 3)]
    assert fetch(store.connection, "SELECT property, withheld FROM missing_values").rows() == [("passing", "no wash")]


def test_catalogue_names_each_property_once(store: Store) -> None:
    with pytest.raises(ValueError, match="the catalogue 'property' names more than once: gmb"):
        store.describe_properties(pl.concat([PROPERTIES, PROPERTIES.head(1)]), FLAGS, COLUMNS)


def test_hostile_catalogue_names_stay_names(store: Store) -> None:
    evil = 'x"; DROP TABLE sample; --'
    hostile = COLUMNS.head(1).with_columns(column_name=pl.lit(evil), property=pl.lit("'; DROP TABLE sample; --"))
    store.describe_properties(PROPERTIES, FLAGS, hostile)
    assert fetch(store.connection, "FROM sample_results").columns[-1] == evil


@pytest.mark.parametrize(
    ("taken_on", "revision"),
    [
        (date(2025, 12, 31), 1),
        (date(2026, 1, 1), 1),
        (date(2026, 5, 31), 2),
        (date(2026, 6, 1), 3),
        (date(2027, 1, 1), 3),
    ],
)
def test_revision_of_the_mix_design_on_the_day_of_sampling(store: Store, taken_on: date, revision: int) -> None:
    days = [date(2026, 1, 1), date(2026, 3, 1), date(2026, 6, 1)]
    designs = rows.traced("mix_design", *(rows.design("m", number, day) for number, day in enumerate(days, start=1)))
    rows.put(
        store, 1, "m", "r", mix_design=designs, sample=rows.traced("sample", rows.sample("r", "A", taken_on=taken_on))
    )
    assert fetch(store.connection, "SELECT sample_id, revision FROM samples").rows() == [("A", revision)]


def test_register_shows_samples_whose_mix_and_project_are_not_there_yet(store: Store) -> None:
    rows.put(store, 1, "r", sample=rows.traced("sample", rows.sample("r", "A")))
    assert fetch(store.connection, "SELECT sample_id, project_name, revision FROM samples").rows() == [
        ("A", None, None)
    ]


def test_refusals_say_file_and_place(store: Store) -> None:
    given = rows.refusals(
        rows.refusal("a", "truncated"),
        rows.refusal("a", source_line=3),
        rows.refusal("a", source_line=4, source_part="sheet Cores"),
        rows.refusal(None, "unknown_mix", stage="match", sample_id="A"),
    )
    store.put(1, rows.exports("a"), {}, given)
    found = fetch(store.connection, "SELECT file_name, found_at FROM refusals ORDER BY ALL").rows()
    assert found == [("a.txt", "line 3"), ("a.txt", "sheet Cores, line 4"), ("a.txt", "whole file"), (None, None)]


def test_exports_and_judgements_are_shown(store: Store) -> None:
    store.put(1, rows.exports("a", arrivals=2), {}, rows.refusals())
    assert fetch(store.connection, "SELECT name, arrivals FROM exports").rows() == [("a.txt", 2)]
    assert fetch(store.connection, "FROM judgements").is_empty()


def test_every_view_has_a_whole_header(store: Store) -> None:
    store.describe_properties(PROPERTIES, FLAGS, COLUMNS)
    found = views.all_of(store.connection)
    assert {view.name for view in views.shipped()} < {view.name for view in found}
    for view in found:
        views.check(store.connection, view)
        for sentence in (view.purpose, view.cautions, *view.columns.values()):
            assert sentence.endswith("."), f"{view.name}: {sentence}"


HEADER = "-- purpose: P.\n-- grain: g\n-- cautions: C.\n-- columns:\n--   a: A.\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("SELECT 1 AS a", "the header lacks purpose, grain, cautions, columns"),
        (HEADER + "-- colour: red\nSELECT 1 AS a", "header line not understood: -- colour: red"),
        (HEADER + "SELECT 1 AS a, 2 AS b", "header and query differ in columns or their order: b"),
        (HEADER + "--   b: = weighing.colour\nSELECT 1 AS a", "weighing.colour, which no table or view file has"),
    ],
)
def test_faulty_view_files_are_named(text: str, said: str) -> None:
    connection = duckdb.connect()
    with pytest.raises(views.ViewHeaderError, match=said):
        parsed = views.parse("v", text)
        connection.execute(f"CREATE VIEW v AS {parsed.query}")
        views.check(connection, parsed)


def test_views_are_created_after_those_they_read() -> None:
    connection = duckdb.connect()
    texts = {
        "a": "SELECT a FROM b",
        "b": "WITH a AS (SELECT 1 AS a) SELECT a FROM a",
        "c": "SELECT a FROM b JOIN a USING (a)",
    }
    made = [views.parse(name, HEADER + query) for name, query in texts.items()]
    assert [view.name for view in views.ordered(connection, made)] == ["b", "a", "c"]


def test_a_view_file_must_hold_a_select() -> None:
    with pytest.raises(views.ViewHeaderError, match="not a SELECT"):
        views.depends(duckdb.connect(), "DROP TABLE sample")
