"""Reading: long series in millimetres, one question at a time, hostile SQL refused with a sentence and a remedy."""

import time
from collections.abc import Iterator
from pathlib import Path

import duckdb
import polars as pl
import pytest

from tests.unit.warehouse import rows
from warehouse import publish, read
from warehouse.errors import QueryRefusedError
from warehouse.sql import fetch
from warehouse.store import open_store


@pytest.fixture(scope="module")
def published(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a workspace with heights, depths and densities published."""
    workspace = tmp_path_factory.mktemp("published")
    (workspace / "mixledger.toml").write_text("secret = 1")
    with open_store(workspace / "store", workspace / "series") as store:
        rows.put(store, 1, "h1", **rows.heights("h1", "A", [131.2, 129.05]))
        rows.put(store, 2, "h2", **rows.heights("h2", "B", [120.0]))
        rows.put(store, 3, "h3", **rows.heights("h3", "B", [121.0]) | rows.depths("h3", "B", [0.0, 1.25]))
        density = {"sample_id": "A", "specimen_no": "1", "gyration": 1, "gmb_corrected": 2.25, "gmm_pct": 90.0}
        store.replace("densification", pl.DataFrame([density]), rows.subjects("A"), 3)
        publish.publish(store)
    return workspace


@pytest.fixture
def connection(published: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """Give a reader's connection."""
    with read.connect(published) as opened:
        yield opened


def ask(connection: duckdb.DuckDBPyConnection, sql: str, limit: int | None = 100) -> pl.DataFrame:
    return read.query(connection, sql, limit, 30)


def test_long_series_are_views_in_millimetres_of_current_rows_only(connection: duckdb.DuckDBPyConnection) -> None:
    heights = ask(connection, "SELECT sample_id, gyration, height_mm FROM compaction_height ORDER BY ALL")
    assert heights.rows() == [("A", 0, 131.2), ("A", 1, 129.05), ("B", 0, 121.0)]
    assert ask(connection, "SELECT gmb_corrected FROM densification").item() == 2.25
    assert ask(connection, "SELECT depth_02_mm FROM wheel_depth WHERE wheel_pass = 50").item() == 1.45


def test_wheel_depths_by_position(connection: duckdb.DuckDBPyConnection) -> None:
    found = ask(connection, "SELECT position, depth_mm FROM wheel_depths WHERE wheel_pass = 50 ORDER BY position")
    assert found["position"].to_list() == list(range(1, 12))
    assert found["depth_mm"].to_list() == [round(1.25 + at / 10, 2) for at in range(1, 12)]


def test_views_of_the_long_series_carry_comments(connection: duckdb.DuckDBPyConnection) -> None:
    names = fetch(connection, "SELECT view_name FROM duckdb_views() WHERE temporary AND NOT internal")["view_name"]
    assert set(names) == {
        "compaction_height",
        "wheel_depth",
        "wheel_depths",
        "densification",
        "load_point",
        "impact_height",
        "step_density",
    }
    silent = """
        SELECT table_name, column_name FROM duckdb_columns() WHERE NOT internal AND coalesce(comment, '') = ''
        UNION ALL SELECT view_name, NULL FROM duckdb_views() WHERE NOT internal AND coalesce(comment, '') = ''
        """
    assert fetch(connection, silent).rows() == []


def test_an_empty_warehouse_can_be_read(workspace: Path) -> None:
    with open_store(workspace / "store", workspace / "series") as store:
        publish.publish(store)
    with read.connect(workspace) as connection:
        for view in ("compaction_height", "wheel_depths", "densification", "sample_results"):
            assert ask(connection, f"FROM {view}").is_empty()


def test_two_connections_of_one_process(published: Path, connection: duckdb.DuckDBPyConnection) -> None:
    with read.connect(published) as second:
        assert ask(second, "FROM compaction_height").height == ask(connection, "FROM compaction_height").height


@pytest.mark.parametrize(
    "sql",
    [
        "SELECT 1 AS a",
        "SELECT 1 AS a; -- that is all",
        "FROM (VALUES (1)) AS t(a)",
        "/* ; */ WITH x AS (SELECT 1 AS a) FROM x",
    ],
)
def test_single_questions_are_answered_as_they_stand(connection: duckdb.DuckDBPyConnection, sql: str) -> None:
    assert ask(connection, sql).rows() == [(1,)]


def test_rows_are_limited_and_ordered(connection: duckdb.DuckDBPyConnection) -> None:
    sql = "SELECT range AS a FROM range(1000) ORDER BY a DESC"
    assert ask(connection, sql, 3)["a"].to_list() == [999, 998, 997]
    assert ask(connection, sql, None).height == 1000
    assert ask(connection, sql + " LIMIT 0", 3).columns == ["a"]


KIND = "The query is no SELECT but a statement of kind {}."
FORBIDDEN = "The query reaches for a file, the network or an extension, which queries may not."


@pytest.mark.parametrize(
    ("sql", "said"),
    [
        ("COPY sample TO 'out.csv'", KIND.format("COPY")),
        ("COPY (SELECT 1) TO '{series}/x.parquet'", KIND.format("COPY")),
        ("ATTACH 'other.duckdb'", KIND.format("ATTACH")),
        ("INSTALL httpfs", KIND.format("LOAD")),
        ("LOAD httpfs", KIND.format("LOAD")),
        ("SET threads = 8", KIND.format("SET")),
        ("SET enable_external_access = true", KIND.format("SET")),
        ("PRAGMA threads = 8", None),
        ("INSERT INTO sample SELECT * FROM sample", KIND.format("INSERT")),
        ("DELETE FROM sample", KIND.format("DELETE")),
        ("DROP TABLE sample", KIND.format("DROP")),
        ("CREATE TEMP TABLE mine (a INTEGER)", KIND.format("CREATE")),
        ("EXPORT DATABASE 'out'", KIND.format("EXPORT")),
        ("CALL enable_logging()", KIND.format("CALL")),
        ("EXPLAIN ANALYZE SELECT 1", KIND.format("EXPLAIN")),
        ("SELECT 1; SELECT 2", "The query consists of 2 statements."),
        ("SELECT 1; DROP TABLE sample", "The query consists of 2 statements."),
        ("", "The query consists of 0 statements."),
        ("-- nothing", "The query consists of 0 statements."),
        ("SELECT * FROM read_csv('/etc/passwd')", FORBIDDEN),
        ("SELECT * FROM read_text('/etc/passwd')", FORBIDDEN),
        ("SELECT * FROM read_blob('{series}/../mixledger.toml')", FORBIDDEN),
        ("SELECT * FROM read_text('{series}/compaction_height/../../mixledger.toml')", FORBIDDEN),
        ("SELECT * FROM read_parquet('https://example.org/a.parquet')", FORBIDDEN),
        ("SELECT * FROM glob('/etc/*')", FORBIDDEN),
        ("SELECT * FROM glob('{series}/../*')", FORBIDDEN),
        ("SELECT * FROM '/etc/passwd'", None),
        ("SELECT getenv('HOME')", None),
        ("SELECT * FROM enable_logging(storage = 'file')", None),
        ("SELECT * FROM query('COPY sample TO ''x.csv''')", None),
        ("SELECT * FROM published", None),
        ("SELECT * FROM no_such_table", None),
        ("SELECT FROM WHERE", None),
        ("SELECT 1 AS a, 2 AS a", "The query has more than one column called 'a'."),
    ],
)
def test_hostile_or_mistaken_queries_are_refused(
    published: Path, connection: duckdb.DuckDBPyConnection, sql: str, said: str | None
) -> None:
    files = sorted(path for path in published.rglob("*"))
    with pytest.raises(QueryRefusedError) as caught:
        ask(connection, sql.replace("{series}", (published / "series").as_posix()))
    assert said is None or caught.value.sentence == said
    assert caught.value.remedy
    assert "\n" not in str(caught.value)
    assert sorted(path for path in published.rglob("*")) == files
    assert ask(connection, "SELECT count(*) AS n FROM export").item() == 3


def test_the_connection_itself_is_locked(published: Path, connection: duckdb.DuckDBPyConnection) -> None:
    for sql in (
        "INSERT INTO flag VALUES ('a', 'b', NULL, NULL)",
        "SET threads = 8",
        "ATTACH 'other.duckdb'",
        "LOAD httpfs",
    ):
        with pytest.raises(duckdb.Error):
            connection.execute(sql).complete()


def test_a_query_is_stopped_in_time_and_the_connection_goes_on(connection: duckdb.DuckDBPyConnection) -> None:
    endless = "SELECT count(*) AS n FROM range(1000000) AS a, range(1000000) AS b WHERE hash(a.range + b.range) = 3"
    began = time.monotonic()
    with pytest.raises(QueryRefusedError) as caught:
        read.query(connection, endless, 10, 0.3)
    assert time.monotonic() - began < 10
    assert caught.value.sentence == "The query took longer than 0.3 s and was stopped."
    assert ask(connection, "SELECT 1 AS a").item() == 1


def test_python_variables_are_out_of_reach(connection: duckdb.DuckDBPyConnection) -> None:
    secret = pl.DataFrame({"a": [1]})
    with pytest.raises(QueryRefusedError, match="secret"):
        ask(connection, "SELECT * FROM secret")
    assert secret.height == 1
