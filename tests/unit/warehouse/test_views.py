"""Views: headers, order, and what each of them shows."""

import statistics
from datetime import date
from typing import Any

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


def test_plants_stand_side_by_side_by_production_alone(store: Store) -> None:
    binder = pl.DataFrame({"property": ["pb"], "symbol": ["Pb"], "name": ["binder"], "unit": ["%"], "decimals": [2]})
    column = {"property": ["pb"], "point": [None], "column_name": ["pb_pct"], "sentence": ["Binder."], "unit": ["%"]}
    store.describe_properties(binder, FLAGS, pl.DataFrame(column, schema=COLUMNS.schema))
    designs = [
        rows.design("d", 1, date(2026, 4, 1), plant="North Pit", pb_pct=5.0),
        rows.design("d", 1, date(2026, 4, 1), mix_id="M-20", plant="North Pit", pb_pct=6.0),
        rows.design("d", 1, date(2026, 4, 1), mix_id="M-30", plant="South Pit"),
        rows.design("d", 1, date(2026, 4, 1), mix_id="M-40", pb_pct=4.0),
    ]
    samples: dict[str, dict[str, Any]] = {
        "A": {},
        "B": {"taken_on": date(2026, 6, 1)},
        "C": {"mix_id": "M-20", "taken_on": date(2026, 7, 1)},
        "of 2025": {"taken_on": date(2025, 12, 31)},
        "of no target": {"mix_id": "M-30"},
        "of no plant": {"mix_id": "M-40"},
        "of no production": {"phase": "verification"},
    }
    entries = [rows.sample("r", name, **more) for name, more in samples.items()]
    rows.put(store, 1, "d", "r", mix_design=rows.traced("mix_design", *designs), sample=rows.traced("sample", *entries))
    found = {"A": 5.2, "B": 4.9, "C": 6.3, "of 2025": 5.5, "of no target": 5.0, "of no plant": 9.0,
             "of no production": 9.0}  # fmt: skip
    flags = {"B": "hot"}
    values = [rows.figure(name, "pb", value, flags=flags.get(name)) for name, value in found.items()]
    specimen = rows.figure("A", "pb", 9.0, level="specimen", method="t308", specimen_no="1")
    store.replace("property_value", rows.figures(*values, specimen), rows.subjects(*found), 1)
    # Of two limits on one result one that it fails counts; what could not be judged was not judged.
    verdicts = [("A", "single", "pass"), ("A", "other", "fail"), ("B", "single", "pass"), ("C", "single", "not_judged")]
    store.replace("judgement", rows.judgements(*verdicts, property="pb"), rows.subjects("A", "B", "C"), 1)
    told = fetch(
        store.connection,
        "SELECT plant, year, property, samples, doubtful, mixes, mean_off_target, deviation_off_target, judged, "
        "failed FROM plant_comparison ORDER BY plant, year",
    ).rows()
    off = [5.2 - 5.0, 4.9 - 5.0, 6.3 - 6.0]
    assert [row[:6] + row[8:] for row in told] == [
        ("North Pit", 2025, "pb", 1, 0, 1, 0, 0),
        ("North Pit", 2026, "pb", 3, 1, 2, 2, 1),
        ("South Pit", 2026, "pb", 1, 0, 1, 0, 0),
    ]
    assert told[0][6:8] == (pytest.approx(0.5), None)
    # Mean and standard deviation (n - 1) by the standard library.
    assert told[1][6:8] == (pytest.approx(statistics.mean(off)), pytest.approx(statistics.stdev(off)))
    assert told[2][6:8] == (None, None)


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
