"""Migrations: from every earlier version to this one, all or nothing, on demand; newer stores are left alone."""

import importlib
from pathlib import Path

import duckdb
import polars as pl
import pytest

from warehouse import ddl, migrations, publish, read
from warehouse.errors import StoreDamagedError, StoreVersionError
from warehouse.sql import fetch
from warehouse.store import open_store, upgrade_store
from warehouse.working import WORKING_NAME

STORED = sorted((Path(__file__).parent / "stored").glob("version_*.sql"))
INITIAL = importlib.import_module("warehouse.migrations.0001_initial")


def older(folder: Path, stored: Path) -> Path:
    """Make a workspace whose store was left by an earlier version: its tables, then its rows as it wrote them."""
    (folder / "store").mkdir(parents=True)
    (folder / "series").mkdir()
    version = int(stored.stem.removeprefix("version_"))
    with duckdb.connect(str(folder / "store" / WORKING_NAME)) as connection:
        for migration in migrations.known()[:version]:
            migration.apply(connection)
        connection.execute(stored.read_text(encoding="utf-8")).complete()
    return folder


@pytest.fixture(params=STORED, ids=lambda path: path.stem)
def left(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    return older(tmp_path, request.param)


def upgrade(workspace: Path) -> list[str]:
    return upgrade_store(workspace / "store", workspace / "series")


def test_there_is_a_stored_database_of_every_earlier_version() -> None:
    versions = [int(path.stem.removeprefix("version_")) for path in STORED]
    assert versions == list(range(1, migrations.known()[-1].number))


def test_an_older_store_is_refused_politely_then_upgraded_and_goes_on(left: Path) -> None:
    path = left / "store" / WORKING_NAME
    before = path.read_bytes()
    with pytest.raises(StoreVersionError, match="written by an earlier mixledger") as caught:
        open_store(left / "store", left / "series")
    assert "mixledger upgrade" in caught.value.remedy
    assert path.read_bytes() == before
    with duckdb.connect(str(path), read_only=True) as connection:
        tables = fetch(connection, "SELECT table_name FROM duckdb_tables()").to_series().to_list()
        rows = {
            name: fetch(connection, f'FROM "{name}"') for name in tables if name not in ("migration", "store_state")
        }
    assert sum(frame.height for frame in rows.values()) > 10
    assert upgrade(left)
    assert upgrade(left) == []
    with open_store(left / "store", left / "series") as store:
        order = ["table_name", "position"]
        assert ddl.found(store.connection).sort(order).equals(ddl.described().sort(order))
        for name, frame in rows.items():
            now = fetch(store.connection, f'FROM "{name}"').select(frame.columns)
            assert now.sort(pl.all()).equals(frame.sort(pl.all())), name
        publish.publish(store)
    # The rows name parts of the series that are not stored with them: only the connection without them is opened.
    with duckdb.connect(str(publish.published(left / "store")), read_only=True) as connection:
        assert (
            fetch(connection, "SELECT gmb FROM (SELECT 2.41 AS gmb) SEMI JOIN property_values ON value = gmb").height
            == 1
        )
        assert fetch(connection, "SELECT value FROM as_of.property_value(4) WHERE valid_to_run IS NULL").item() == 2.4


def test_series_of_version_1_are_dated_by_the_run_that_wrote_them(tmp_path: Path) -> None:
    workspace = older(tmp_path, STORED[0])
    upgrade(workspace)
    with open_store(workspace / "store", workspace / "series") as store:
        found = fetch(store.connection, "SELECT export_hash, valid_from_run, valid_to_run FROM series_export").rows()
    assert found == [("h", 4, None)]


def test_a_fresh_store_is_what_the_migrations_lead_to(workspace: Path) -> None:
    connection = duckdb.connect()
    assert migrations.upgrade(connection)
    order = ["table_name", "position"]
    with open_store(workspace / "store", workspace / "series") as store:
        assert ddl.found(connection).sort(order).equals(ddl.found(store.connection).sort(order))
        assert migrations.reached(store.connection) == migrations.known()[-1].number


def test_migrations_are_numbered_without_gap() -> None:
    numbers = [migration.number for migration in migrations.known()]
    assert numbers == list(range(1, len(numbers) + 1))


@pytest.mark.parametrize(
    ("change", "after"),
    [
        ("ALTER TABLE core DROP COLUMN lift", "added to table 'core': lift"),
        ("DROP TABLE formula", "added table 'formula'"),
        ("COMMENT ON TABLE core IS 'another'", None),
    ],
)
def test_what_the_schemas_have_more_is_added(workspace: Path, change: str, after: str | None) -> None:
    with duckdb.connect(str(workspace / "store" / WORKING_NAME)) as connection:
        for (name,) in connection.execute("SELECT view_name FROM duckdb_views() WHERE NOT internal").fetchall():
            connection.execute(f'DROP VIEW IF EXISTS "{name}"')
        connection.execute(change)
    assert upgrade(workspace) == ([after] if after else [])
    with open_store(workspace / "store", workspace / "series") as store:
        assert ddl.differences(store.connection) == []


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("ALTER TABLE core ADD COLUMN colour VARCHAR", "core.colour' (VARCHAR, may be null), which is not described"),
        ("ALTER TABLE core ALTER lift TYPE INTEGER", "the store lacks 'core.lift' (BIGINT, may be null)"),
    ],
)
def test_what_no_migration_covers_is_refused_and_left(workspace: Path, change: str, said: str) -> None:
    path = workspace / "store" / WORKING_NAME
    with duckdb.connect(str(path)) as connection:
        for (name,) in connection.execute("SELECT view_name FROM duckdb_views() WHERE NOT internal").fetchall():
            connection.execute(f'DROP VIEW IF EXISTS "{name}"')
        connection.execute(change)
    with pytest.raises(StoreVersionError) as caught:
        upgrade(workspace)
    assert said in caught.value.sentence
    assert "mixledger rebuild" in caught.value.remedy
    with duckdb.connect(str(path)) as connection:
        assert said in " ".join(ddl.differences(connection))


def test_newer_store_is_refused_and_left_alone(workspace: Path) -> None:
    path = workspace / "store" / WORKING_NAME
    with duckdb.connect(str(path)) as connection:
        connection.execute("INSERT INTO migration VALUES (99, '0099_later', now()::TIMESTAMP)")
    before = path.read_bytes()
    newest = migrations.known()[-1].number
    for opened in (open_store, upgrade_store):
        with pytest.raises(StoreVersionError) as caught:
            opened(workspace / "store", workspace / "series")
        assert caught.value.sentence == f"The store is at version 99, this mixledger knows versions up to {newest}."
        assert path.read_bytes() == before


def test_a_newer_published_warehouse_says_so_to_readers(workspace: Path) -> None:
    with open_store(workspace / "store", workspace / "series") as store:
        store.connection.execute("INSERT INTO migration VALUES (99, '0099_later', now()::TIMESTAMP)")
        publish.publish(store)
    with pytest.raises(StoreVersionError, match="The store is at version 99"):
        read.connect(workspace)


def test_failed_migration_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    workspace = older(tmp_path, STORED[0])

    def broken(connection: duckdb.DuckDBPyConnection) -> None:
        connection.execute("DROP TABLE series_export")
        raise RuntimeError("power cut")

    steps = [migrations.Migration(1, "0001_initial", INITIAL.apply), migrations.Migration(2, "0002_broken", broken)]
    monkeypatch.setattr(migrations, "known", lambda: steps)
    with pytest.raises(RuntimeError, match="power cut"):
        upgrade(workspace)
    with duckdb.connect(str(workspace / "store" / WORKING_NAME)) as connection:
        assert fetch(connection, "FROM series_export").height == 1
        assert migrations.reached(connection) == 1


def test_a_damaged_store_says_how_to_get_a_new_one(workspace: Path) -> None:
    path = workspace / "store" / WORKING_NAME
    path.write_bytes(b"not a database at all" * 1000)
    with pytest.raises(StoreDamagedError) as caught:
        open_store(workspace / "store", workspace / "series")
    assert "mixledger rebuild" in caught.value.remedy
