"""Looking back: a report of an earlier day can be given again after what it rests on was corrected."""

import json
from pathlib import Path

import polars as pl
import pytest
from click.testing import CliRunner, Result
from polars.testing import assert_frame_equal

from pipeline.cli.group import group
from pipeline.contents import contents, differences
from pipeline.workspace import Workspace
from tests.history.conftest import MIX
from warehouse import as_of, ddl, views
from warehouse.errors import QueryRefusedError
from warehouse.read import connect
from warehouse.sql import fetch

SAMPLE = "HB-0001"


def call(at: Workspace, *given: str) -> Result:
    return CliRunner().invoke(group, ["-w", str(at.root), *given], catch_exceptions=False)


def vma(at: Workspace, *given: str) -> float:
    query = f"select vma_pct from volumetrics where sample_id = '{SAMPLE}'"
    return json.loads(call(at, "sql", query, "--json", *given).stdout)[0]["vma_pct"]


def test_the_corrected_design_moves_what_rests_on_it_and_nothing_else(demo: Workspace, corrected: Workspace) -> None:
    with connect(demo.root) as connection:
        before = fetch(connection, "select * from property_values")
    with connect(corrected.root) as connection:
        after = fetch(connection, "select * from property_values")
        mixes = dict(fetch(connection, "select sample_id, mix_id from sample where valid_to_run is null").iter_rows())
    names = [name for name in before.columns if name not in ("valid_from_run", "uncertainty", "spread", "n")]
    moved = before.join(after, on=names, how="anti", nulls_equal=True)
    assert {mixes[sample] for sample in moved["sample_id"]} == {MIX}
    assert {"vma", "vfa", "pba", "pbe"} <= set(moved["property"])
    assert not {"gmm", "gmb", "air_voids", "pb", "passing"} & set(moved["property"])


def test_the_figure_of_that_day(demo: Workspace, corrected: Workspace) -> None:
    """VMA = 100 - Gmb Ps / Gsb falls by Gmb Ps (1/2.692 - 1/2.702) when Gsb does (AASHTO R 35)."""
    then, now = vma(demo), vma(corrected)
    assert vma(corrected, "--as-of", "1") == then
    assert (100 - now) / (100 - then) == pytest.approx(2.702 / 2.692, rel=1e-12)


def test_all_of_the_warehouse_as_of_a_run_is_the_warehouse_of_that_run(demo: Workspace, corrected: Workspace) -> None:
    """Compared table by table, as readers see it, with the demo before the correction."""
    before, then = contents(demo.root), contents(corrected.root, as_of="1")
    assert not differences(before, then)
    assert differences(before, contents(corrected.root))


def test_every_view_and_macro_looks_back_alike(corrected: Workspace) -> None:
    """A view of a connection that looks back, and the macro of the same name in one that does not."""
    with connect(corrected.root) as now, connect(corrected.root, as_of="1") as then:
        macros = fetch(
            now,
            "select distinct function_name from duckdb_functions() "
            "where schema_name = ? and function_type = 'table_macro'",
            [as_of.SCHEMA],
        )["function_name"].to_list()  # fmt: skip
        assert {view.name for view in views.shipped()} - set(macros) == {"dictionary"}
        assert {"property_value", "weighing", "sample_results"} <= set(macros)
        moved = 0
        for name in macros:
            order = "order by all"
            told = fetch(now, f'from {as_of.SCHEMA}."{name}"(1) {order}')
            # Sums over another plan may differ in the last bits.
            assert_frame_equal(told, fetch(then, f'from "{name}" {order}'), rel_tol=1e-9, abs_tol=1e-9)
            moved += not told.equals(fetch(now, f'from "{name}" {order}'))
        assert moved > 10


@pytest.mark.parametrize("moment", ["date '2000-01-01'", "0"])
def test_nothing_was_known_before_the_first_run(corrected: Workspace, moment: str) -> None:
    with connect(corrected.root) as connection:
        assert fetch(connection, f"from {as_of.SCHEMA}.property_values({moment})").is_empty()


def test_moments_are_days_times_and_runs(corrected: Workspace) -> None:
    with connect(corrected.root) as connection:
        finished = dict(fetch(connection, "select run_id, finished_at from run").iter_rows())
        assert as_of.run_at(connection, f"{finished[1]:%Y-%m-%d}") in (1, 2)
        assert as_of.run_at(connection, f"{finished[2]:%Y-%m-%d}") == 2
        assert as_of.run_at(connection, str(finished[2])) == 1  # at the very moment it was not there yet
        assert as_of.run_at(connection, "2") == 2
        for wrong in ("yesterday", "3", "2000-01-01", "'; drop table run"):
            with pytest.raises(QueryRefusedError) as caught:
                as_of.run_at(connection, wrong)
            assert caught.value.remedy


def test_a_wrong_moment_is_told_in_a_line(corrected: Workspace) -> None:
    with pytest.raises(QueryRefusedError, match="'May' is no moment to look back to"):
        call(corrected, "sql", "--as-of", "May", "select 1")


def test_what_was_reported_before_and_why(demo: Workspace, corrected: Workspace) -> None:
    with connect(corrected.root) as connection:
        former = fetch(connection, "select * from former_values")
        run = fetch(connection, "select figures_replaced from runs where run_id = 2").item()
    assert set(former["reason"]) == {"mix_design SEDGE-S9, 1: gsb 2.702 -> 2.692"}
    assert former.height == run
    told = former.filter(sample_id=SAMPLE, property="vma", level="sample")
    assert told["value"].item() == vma(demo)
    assert told["value_after"].item() == vma(corrected)
    assert told["held_to"].item() > told["held_from"].item()


def test_pages_of_that_day(demo: Workspace, corrected: Workspace, folder: Path) -> None:
    """The page of a sample, rendered as of the first run after the correction, is the page rendered then."""
    done = call(corrected, "pages", "--as-of", "1", "-o", str(folder / "then"))
    assert done.exit_code == 0, done.output
    (page,) = demo.pages.rglob(f"*{SAMPLE}*.html")
    (again,) = (folder / "then").rglob(f"*{SAMPLE}*.html")
    (now,) = (corrected.pages).rglob(f"*{SAMPLE}*.html")
    assert again.read_bytes() == page.read_bytes()
    assert now.read_bytes() == page.read_bytes(), "the run of the correction rendered no pages"


def test_pages_of_that_day_do_not_take_the_place_of_those_of_now(corrected: Workspace) -> None:
    done = CliRunner().invoke(group, ["-w", str(corrected.root), "pages", "--as-of", "1", "-o", str(corrected.pages)])
    assert done.exit_code == 2
    assert "name another folder" in done.output


def test_a_trace_of_that_day(demo: Workspace, corrected: Workspace) -> None:
    then = json.loads(call(corrected, "trace", "vma", SAMPLE, "--as-of", "1", "--json").stdout)
    assert then == json.loads(call(demo, "trace", "vma", SAMPLE, "--json").stdout)
    assert then["value"] != json.loads(call(corrected, "trace", "vma", SAMPLE, "--json").stdout)["value"]


def test_what_counts_now_is_in_the_tables_of_both(corrected: Workspace) -> None:
    """Every dated table is hidden behind the view that looks back: none is left out."""
    with connect(corrected.root, as_of="1") as connection:
        hidden = set(
            fetch(connection, "select view_name from duckdb_views() where temporary and not internal")["view_name"]
        )
        late = {
            table.name: fetch(connection, f'select * from "{table.name}"')
            for table in ddl.tables()
            if any(column.name in ("valid_from_run", "run_id") for column in ddl.columns(table))
        }
    assert late.keys() <= hidden
    for name, frame in late.items():
        for column in ("valid_from_run", "valid_to_run", "withdrawn_run", "run_id"):
            if column in frame.columns:
                assert frame.filter(pl.col(column) > 1).is_empty(), f"{name}.{column}"
