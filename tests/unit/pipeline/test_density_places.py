"""Places of in-place density as renderers receive them: every core once, held against the limits that are its own."""

import polars as pl
import pytest

from pipeline.density_places import density_places
from pipeline.rounding import Rule
from pipeline.workspace import Workspace
from plugins.api import Scope
from warehouse.read import connect
from warehouse.sql import fetch

_CORES = "relative_compaction"


@pytest.fixture(scope="module")
def places(demo: Workspace) -> pl.DataFrame:
    with connect(demo.root) as connection:
        return density_places(connection, Scope(), Rule.HALF_EVEN)


def test_every_core_and_every_gauge_place_stands_once(demo: Workspace, places: pl.DataFrame) -> None:
    with connect(demo.root) as connection:
        cores = connection.execute("select count(*) from core where valid_to_run is null").fetchall()[0][0]
        read = "select count(distinct (sample_id, specimen_no)) from gauge_reading where valid_to_run is null"
        spots = connection.execute(read).fetchall()[0][0]
    assert places.filter(pl.col("property") == _CORES).height == cores > 100
    assert places.filter(pl.col("property") != _CORES).height == spots > 10
    assert places.select("sample_id", "specimen_no", "property").is_unique().all()


def test_figures_are_those_of_the_lots(demo: Workspace, places: pl.DataFrame) -> None:
    with connect(demo.root) as connection:
        lots = fetch(
            connection,
            "select project_id, mix_id, lot, compaction_least_pct, compaction_greatest_pct from density_by_lot",
        )
    reach = (
        places.filter(pl.col("property") == _CORES)
        .group_by("project_id", "mix_id", "lot")
        .agg(pl.col("value").min().alias("least"), pl.col("value").max().alias("most"))
        .join(lots, on=["project_id", "mix_id", "lot"])
    )
    assert reach.height == lots.height > 0
    assert (reach["least"] == reach["compaction_least_pct"]).all()
    assert (reach["most"] == reach["compaction_greatest_pct"]).all()


def test_limits_are_those_of_the_plan_where_the_lot_has_one(places: pl.DataFrame) -> None:
    # The demo: two projects have an acceptance plan for cores, 91.5 to 97 and 92 to 97; the others limits on samples.
    cores = places.filter(pl.col("property") == _CORES)
    planned = cores.filter(pl.col("basis") == "plan").select("project_id", "lower", "upper").unique()
    assert set(planned.rows()) == {("SEDGE", 91.5, 97.0), ("FALLOW", 92.0, 97.0)}
    assert set(cores.filter(pl.col("basis") == "sample")["project_id"]) == {"EBBER", "GANNO", "SKELL"}
    assert places.filter(pl.col("property") != _CORES)["side"].null_count() > 10


def test_sides_follow_the_figure_as_it_is_reported(places: pl.DataFrame) -> None:
    # ASTM E29, rounding method: 91.453 is reported as 91.5 and lies within 91.5 to 97; 91.268, as 91.3, below.
    sedge = places.filter(pl.col("sample_id") == "HB-0005", pl.col("property") == _CORES)
    assert dict(sedge.select("text", "side").iter_rows()) == {"91.3": "below", "90.3": "below", "91.5": "within"}
    held = places.filter(pl.col("side").is_not_null()).with_columns(shown=pl.col("text").cast(pl.Float64))
    low, high = pl.col("shown") < pl.col("lower"), pl.col("shown") > pl.col("upper")
    expected = pl.when(low).then(pl.lit("below")).when(high).then(pl.lit("above")).otherwise(pl.lit("within"))
    assert held.select((expected == pl.col("side")).all()).item() and held.height > 100


def test_the_scope_keeps_its_projects(demo: Workspace, places: pl.DataFrame) -> None:
    with connect(demo.root) as connection:
        one = density_places(connection, Scope(projects=frozenset({"SEDGE"}), samples=frozenset()), Rule.HALF_EVEN)
    assert one.equals(places.filter(pl.col("project_id") == "SEDGE")) and one.height > 0
