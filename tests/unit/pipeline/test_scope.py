"""Which pages a run may have changed: by rows that changed, and by days that have passed."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest

from pipeline import tables
from pipeline.workspace import Workspace


@pytest.fixture
def later(demo: Workspace, tmp_path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """Give a copy of the demo's store with a second run that changed nothing, on the same day."""
    copy = tmp_path / "copy.duckdb"
    shutil.copy(demo.store / "working.duckdb", copy)
    with duckdb.connect(str(copy)) as connection:
        connection.execute("insert into run select * replace (2 as run_id) from run where run_id = 1")
        yield connection


def test_a_run_that_changed_nothing_owes_no_page(later: duckdb.DuckDBPyConnection) -> None:
    found = tables.scope(later, 1)
    assert (found.projects, found.samples) == (frozenset(), frozenset())


@pytest.mark.parametrize("table", ["lot_result", "chart_point", "programme_item"])
def test_a_row_about_a_project_shows_its_page_anew(later: duckdb.DuckDBPyConnection, table: str) -> None:
    later.execute(f"update {table} set valid_from_run = 2 where project_id = 'SEDGE'")
    assert tables.scope(later, 1).projects == {"SEDGE"}


def test_a_page_whose_work_list_has_aged_is_shown_anew(later: duckdb.DuckDBPyConnection) -> None:
    """The demo's items are of its season: seen from a day before it, all of their projects have aged since."""
    later.execute("update run set finished_at = '2026-01-01' where run_id = 1")
    dated = "valid_to_run is null and coalesce(since, due_on) is not null"
    rows = later.execute(f"select distinct project_id from programme_item where {dated}").fetchall()
    wanted = {row[0] for row in rows} - {None}
    assert len(wanted) > 2
    assert tables.scope(later, 1).projects == wanted
    assert tables.scope(later, 1).samples == frozenset()
