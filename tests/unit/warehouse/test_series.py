"""Long series: exact values, current only with their header, read part by part, orphans removed."""

from pathlib import Path

import duckdb
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from schemas.describe import describe
from tests.unit.warehouse import rows
from warehouse import series
from warehouse.files import UNFINISHED
from warehouse.sql import fetch
from warehouse.store import Store


def mm(store: Store) -> list[float]:
    return store.series("compaction_height", store.current("compaction_run"))["height_mm"].to_list()


@pytest.mark.parametrize(
    "values",
    [[131.2, 129.05, 115.3], [131.2, 129.123], [100.00001, 99.12345], [0.01, 499.99], [120.0]],
    ids=["hundredths", "thousandths", "hundred-thousandths", "bounds", "one"],
)
def test_heights_come_back_exactly(store: Store, values: list[float]) -> None:
    rows.put(store, 1, "h", **rows.heights("h", "A", values))
    assert mm(store) == values


@settings(deadline=None)
@given(st.lists(st.integers(1, 50_000), min_size=1, max_size=50))
def test_hundredths_are_exact_whatever_the_value(
    tmp_path_factory: pytest.TempPathFactory, hundredths: list[int]
) -> None:
    values = [float(f"{each // 100}.{each % 100:02d}") for each in hundredths]
    frame = rows.heights("h", "A", values)["compaction_height"]
    folder, connection = tmp_path_factory.mktemp("part"), duckdb.connect()
    part = folder / series.write_part(connection, folder, "compaction_height", frame, 1)
    found = connection.sql(f"SELECT height_steps, {series.STEPS} FROM '{part}'").pl()
    assert found[series.STEPS].unique().to_list() == [100]
    assert found.schema["height_steps"] == pl.Int32
    assert found["height_steps"].to_list() == hundredths
    read = fetch(connection, series.rows_query("compaction_height", folder, [part.relative_to(folder).as_posix()]))
    assert read["height_mm"].to_list() == values


def test_inches_are_kept_to_a_millionth_of_a_millimetre(store: Store) -> None:
    inches = [4.53125 * 25.4, 1 / 3 * 25.4]
    rows.put(store, 1, "h", **rows.heights("h", "A", inches))
    assert mm(store) == pytest.approx(inches, abs=5e-7)


def test_empty_depths_stay_empty(store: Store) -> None:
    given_depths = rows.depths("w", "A", [0.5, 1.5])
    lost = pl.when(pl.col("wheel_pass") == 50).then(None).otherwise(pl.col("depth_03_mm")).alias("depth_03_mm")
    given_depths["wheel_depth"] = given_depths["wheel_depth"].with_columns(lost)
    rows.put(store, 1, "w", **given_depths)
    found = store.series("wheel_depth", store.current("wheel_run"))
    assert found["depth_03_mm"].to_list() == [0.8, None]
    assert found.columns == list(describe("wheel_depth").schema())
    assert found.schema == pl.Schema(describe("wheel_depth").schema())


def test_only_the_parts_of_the_headers_are_read(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    for run_id in range(1, 6):
        rows.put(store, run_id, f"h{run_id}", **rows.heights(f"h{run_id}", f"S{run_id}", [100.0 + run_id]))
    asked: list[list[str]] = []
    whole = series.rows_query

    def watched(name: str, folder: Path, parts: list[str]) -> str:
        asked.append(list(parts))
        return whole(name, folder, parts)

    monkeypatch.setattr(series, "rows_query", watched)
    headers = store.current("compaction_run", rows.subjects("S2", "S4"))
    assert store.series("compaction_height", headers)["height_mm"].to_list() == [102.0, 104.0]
    assert [[Path(part).name.split("-")[0] for part in parts] for parts in asked] == [["2", "4"]]


def test_rows_of_a_superseded_header_are_not_current(store: Store) -> None:
    rows.put(store, 1, "h1", **rows.heights("h1", "A", [100.0]))
    rows.put(store, 2, "h2", **rows.heights("h2", "A", [101.0]))
    assert mm(store) == [101.0]


def test_export_read_again_gives_its_new_series(store: Store) -> None:
    rows.put(store, 1, "h", "k", **_together(rows.heights("h", "A", [100.0, 99.0]), rows.heights("k", "B", [90.0])))
    rows.put(store, 2, "h", **rows.heights("h", "A", [98.0]))
    assert mm(store) == [98.0, 90.0]
    rows.put(store, 3, "h")
    assert mm(store) == [90.0]
    current = "SELECT export_hash, count(*) FROM series_export WHERE valid_to_run IS NULL GROUP BY 1"
    again = fetch(store.connection, current).rows()
    assert again == [("k", 1)]


def _together(*given_frames: dict[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    return {name: pl.concat(frames[name] for frames in given_frames) for name in given_frames[0]}


def test_no_headers_give_no_rows_of_the_right_form(store: Store) -> None:
    found = store.series("wheel_depth", store.current("wheel_run"))
    assert found.is_empty()
    assert found.schema == pl.Schema(describe("wheel_depth").schema())


def test_parts_are_small_delta_packed_and_sorted(store: Store, workspace: Path) -> None:
    values = [round(5 * (1 - 0.999**at), 2) for at in range(4000)]
    rows.put(store, 1, "w", **rows.depths("w", "A", values))
    (part,) = (workspace / "series" / "wheel_depth").iterdir()
    query = f"SELECT path_in_schema, encodings, compression FROM parquet_metadata('{part}')"
    columns = {name: (encodings, compression) for name, encodings, compression in duckdb.sql(query).fetchall()}
    assert columns["wheel_pass"] == ("DELTA_BINARY_PACKED", "ZSTD")
    assert columns["depth_01_steps"][1] == "ZSTD"
    assert part.stat().st_size < 4000 * 11 * 2, "two bytes a depth or more"
    passes = duckdb.sql(f"SELECT wheel_pass FROM '{part}'").pl()["wheel_pass"]
    assert passes.is_sorted()


def test_orphans_are_removed_at_the_next_run_and_parts_kept(store: Store, workspace: Path) -> None:
    rows.put(store, 1, "h", **rows.heights("h", "A", [100.0]))
    folder = workspace / "series" / "compaction_height"
    (folder / "2-feedfacecafe.parquet").write_bytes(b"left behind")
    (folder / f"3.parquet{UNFINISHED}").write_bytes(b"torn")
    store.begin()
    store.put(2, rows.exports("k"), rows.heights("k", "B", [90.0]), rows.refusals())
    assert len(list(folder.iterdir())) == 2
    store.rollback()
    store.begin()
    store.commit()
    assert len(list(folder.iterdir())) == 1
    assert mm(store) == [100.0]


def density(sample_id: str, *values: float) -> list[dict[str, object]]:
    return [
        {"sample_id": sample_id, "specimen_no": "1", "gyration": at, "gmb_corrected": value, "gmm_pct": None}
        for at, value in enumerate(values)
    ]


def test_computed_series_follow_their_samples(store: Store) -> None:
    def put(run_id: int, subjects: tuple[str, ...], *given_rows: list[dict[str, object]]) -> None:
        frame = pl.DataFrame([row for each in given_rows for row in each], schema_overrides={"gmm_pct": pl.Float64})
        store.replace("densification", frame, rows.subjects(*subjects), run_id)

    def now() -> list[tuple[str, float, int]]:
        found = store.series("densification", rows.subjects("A", "B"))
        return found.select("sample_id", "gmb_corrected", "valid_from_run").rows()

    put(1, ("A", "B"), density("A", 2.1, 2.2), density("B", 2.3))
    assert now() == [("A", 2.1, 1), ("A", 2.2, 1), ("B", 2.3, 1)]
    put(2, ("A", "B"), density("A", 2.1, 2.25), density("B", 2.3))
    assert now() == [("A", 2.1, 2), ("A", 2.25, 2), ("B", 2.3, 1)]
    put(3, ("B",))
    assert now() == [("A", 2.1, 2), ("A", 2.25, 2)]
    assert fetch(store.connection, "SELECT count(*) FROM series_part").item() == 2
