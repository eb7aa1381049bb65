"""Tables, migrations and comments: the migrated store describes itself as the schemas do."""

import importlib
from pathlib import Path

import duckdb
import pytest

from warehouse import ddl, migrations
from warehouse.errors import StoreVersionError
from warehouse.own_tables import OWN, column
from warehouse.sql import fetch, literal, quoted
from warehouse.store import Store, open_store


def test_migrated_store_is_what_the_schemas_describe(store: Store) -> None:
    order = ["table_name", "position"]
    assert ddl.found(store.connection).sort(order).equals(ddl.described().sort(order))
    assert ddl.differences(store.connection) == []


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("ALTER TABLE weighing DROP COLUMN mass_g", "the store lacks 'weighing.mass_g' (DOUBLE, never null)"),
        ("ALTER TABLE weighing ADD COLUMN colour VARCHAR", "the store has 'weighing.colour' (VARCHAR, may be null)"),
        ("ALTER TABLE core ALTER lift TYPE INTEGER", "the store lacks 'core.lift' (BIGINT, may be null)"),
    ],
)
def test_a_schema_without_migration_is_noticed(workspace: Path, change: str, said: str) -> None:
    with open_store(workspace / "store", workspace / "series") as store:
        store.connection.execute(change)
    with pytest.raises(StoreVersionError, match="does not fit the schemas") as caught:
        open_store(workspace / "store", workspace / "series")
    assert "mixledger rebuild" in caught.value.remedy
    with duckdb.connect(str(workspace / "store" / "working.duckdb")) as connection:
        assert any(sentence.startswith(said) for sentence in ddl.differences(connection))


def test_newer_store_is_refused_and_left_alone(workspace: Path) -> None:
    path = workspace / "store" / "working.duckdb"
    with duckdb.connect(str(path)) as connection:
        connection.execute("INSERT INTO migration VALUES (99, '0099_later', now()::TIMESTAMP)")
    before = path.read_bytes()
    with pytest.raises(StoreVersionError) as caught:
        open_store(workspace / "store", workspace / "series")
    assert caught.value.sentence == "The store is at version 99, this mixledger knows versions up to 1."
    assert path.read_bytes() == before


def test_migrations_are_numbered_without_gap_and_applied_once() -> None:
    numbers = [migration.number for migration in migrations.known()]
    assert numbers == list(range(1, len(numbers) + 1))
    connection = duckdb.connect()
    assert [migration.number for migration in migrations.apply(connection)] == numbers
    assert migrations.apply(connection) == []


def test_failed_migration_leaves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(connection: duckdb.DuckDBPyConnection) -> None:
        connection.execute("CREATE TABLE half (a INTEGER)")
        raise RuntimeError("power cut")

    initial = importlib.import_module("warehouse.migrations.0001_initial")
    steps = [migrations.Migration(1, "0001_initial", initial.apply), migrations.Migration(2, "0002_broken", broken)]
    monkeypatch.setattr(migrations, "known", lambda: steps)
    connection = duckdb.connect()
    with pytest.raises(RuntimeError, match="power cut"):
        migrations.apply(connection)
    assert connection.execute("SELECT count(*) FROM duckdb_tables()").fetchall() == [(0,)]


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
