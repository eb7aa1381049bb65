"""Tables and comments: the store describes itself as the schemas do."""

import duckdb

from warehouse import ddl
from warehouse.own_tables import OWN, column
from warehouse.sql import fetch, literal, quoted
from warehouse.store import Store


def test_store_is_what_the_schemas_describe(store: Store) -> None:
    order = ["table_name", "position"]
    assert ddl.found(store.connection).sort(order).equals(ddl.described().sort(order))
    assert ddl.differences(store.connection) == []


def test_every_table_view_and_column_has_a_comment(store: Store) -> None:
    silent = """
        SELECT table_name, NULL AS column_name FROM duckdb_tables() WHERE NOT internal AND coalesce(comment, '') = ''
        UNION ALL
        SELECT view_name, NULL FROM duckdb_views() WHERE NOT internal AND coalesce(comment, '') = ''
        UNION ALL
        SELECT table_name, column_name FROM duckdb_columns() WHERE NOT internal AND coalesce(comment, '') = ''
        """
    assert fetch(store.connection, silent).rows() == []
    views = fetch(store.connection, "SELECT view_name FROM duckdb_views() WHERE NOT internal").height
    assert views >= 7


def test_comment_carries_sentence_unit_words_and_caution(store: Store) -> None:
    found = dict(
        fetch(
            store.connection,
            "SELECT table_name || '.' || column_name, comment FROM duckdb_columns() WHERE NOT internal",
        ).iter_rows()
    )
    assert found["weighing.mass_g"] == "The mass. Unit: g."
    assert found["sample.material"] == "What it consists of. One of: mix, core, aggregate."
    assert found["export.name"].endswith("Caution: Given by whoever wrote the file: untrusted text.")


def test_own_tables_do_not_take_the_name_of_a_record() -> None:
    names = [table.name for table in ddl.tables()]
    assert len(names) == len(set(names))
    assert all(table.sentence.endswith(".") for table in OWN)


def test_hostile_names_and_sentences_stay_text() -> None:
    connection = duckdb.connect()
    evil = 'a"; DROP TABLE kept; --'
    connection.execute("CREATE TABLE kept (a INTEGER)")
    connection.execute(f"CREATE TABLE {quoted(evil)} (a INTEGER)")
    connection.execute(f"COMMENT ON TABLE {quoted(evil)} IS {literal(chr(39) + '; DROP TABLE kept; --')}")
    assert connection.execute("SELECT count(*) FROM duckdb_tables()").fetchall() == [(2,)]


def test_column_helper_states_no_bounds() -> None:
    import polars as pl

    assert ddl.comment(column("a", pl.Int64(), "Any number.")) == "Any number."
