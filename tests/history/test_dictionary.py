"""The dictionary explains every column a reader finds, without the source code; keys and references hold."""

import json
from pathlib import Path

import polars as pl
from click.testing import CliRunner

from pipeline.cli.group import group
from pipeline.dictionary import dictionary, markdown
from pipeline.workspace import Workspace
from schemas.describe import describe_all
from warehouse import ddl
from warehouse.read import connect
from warehouse.sql import fetch, listed, quoted


def call(*given: str) -> str:
    return CliRunner().invoke(group, list(given), catch_exceptions=False).output


def test_it_explains_every_table_view_and_column_of_the_demo(demo: Workspace) -> None:
    told = {(each.name, column.name): column for each in dictionary().relations for column in each.columns}
    with connect(demo.root) as connection:
        found = fetch(connection, "SELECT table_name, column_name, data_type FROM duckdb_columns() WHERE NOT internal")
        macros = fetch(connection, "SELECT DISTINCT schema_name || '.' || function_name FROM duckdb_functions() "
                       "WHERE function_type = 'table_macro' AND NOT internal").to_series()  # fmt: skip
    assert told.keys() == set(found.select("table_name", "column_name").iter_rows())
    for table, name, dtype in found.iter_rows():
        assert told[table, name].type == dtype
        assert told[table, name].sentence.endswith((".", ")"))
    named = {each.name.partition("(")[0] for each in dictionary().relations}
    assert set(macros) <= named


def test_every_word_of_a_vocabulary_is_defined() -> None:
    found = dictionary()
    used = {column.vocabulary for each in found.relations for column in each.columns if column.vocabulary}
    assert used <= found.vocabularies.keys()
    assert all(definition for words in found.vocabularies.values() for definition in words.values())


def test_it_comes_as_text_markdown_json_and_page(folder: Path) -> None:
    one = call("dictionary", "weighing")
    assert "mass_g (DOUBLE; never null): The mass. Unit: g." in one
    assert "sample_id (VARCHAR; key, names a sample, never null)" in one
    assert "surface-dry" in one
    assert json.loads(call("dictionary", "weighing", "--json"))["relations"][0]["name"] == "weighing"
    assert "### sample_results" in markdown(dictionary())
    page = folder / "dictionary.html"
    call("dictionary", "--html", str(page))
    assert "://" not in page.read_text(encoding="utf-8")
    near = CliRunner().invoke(group, ["dictionary", "wheighing"])
    assert "Did you mean weighing" in str(near.exception)


def test_the_warehouse_has_its_own_dictionary(demo: Workspace) -> None:
    with connect(demo.root) as connection:
        found = fetch(connection, "SELECT * FROM dictionary WHERE relation = 'weighing'")
    assert found.filter(column_name="mass_g")["sentence"].item() == "The mass. Unit: g."


def test_keys_hold_though_duckdb_does_not_carry_them(demo: Workspace) -> None:
    """One current row per key, and no key column null where the schema says so: the history keeps several rows."""
    with connect(demo.root) as connection:
        for table in ddl.tables():
            dated = any(column.name == "valid_to_run" for column in ddl.columns(table))
            where = "WHERE valid_to_run IS NULL" if dated else ""
            key = listed(name for name in table.ties.key if name != "valid_from_run")
            twice = f"SELECT {key} FROM {quoted(table.name)} {where} GROUP BY ALL HAVING count(*) > 1"
            if table.name != "record_change":
                assert fetch(connection, twice).is_empty(), table.name


def test_references_lead_somewhere_or_are_listed_as_waiting(demo: Workspace) -> None:
    checked = 0
    with connect(demo.root) as connection:
        waiting = fetch(connection, "SELECT found FROM refusals WHERE stage = 'match'")["found"].to_list()
        for table in (each for each in describe_all() if each.ties.storage == "table"):
            for column, record in table.ties.refers.items():
                current = "WHERE valid_to_run IS NULL" if table.imported else ""
                dangling = fetch(
                    connection,
                    f"SELECT DISTINCT {column} AS name FROM {quoted(table.name)} {current} "
                    f"EXCEPT SELECT {column} FROM {quoted(record)}",
                )
                lost = dangling.drop_nulls().filter(~pl.col("name").cast(pl.String).is_in(waiting))
                assert lost.is_empty(), f"{table.name}.{column}: {lost['name'].to_list()}"
                checked += 1
    assert checked > 15
