"""The whole warehouse given away as Parquet and CSV; and a rebuild that says which figures change, and why."""

import json
from pathlib import Path

import polars as pl
import pytest
from click.testing import CliRunner

from pipeline.cli.group import group
from pipeline.contents import changed_figures, contents, differences
from pipeline.export import ExportError, export
from pipeline.workspace import Workspace
from warehouse.read import connect
from warehouse.sql import fetch


@pytest.fixture(scope="module")
def given(demo: Workspace, tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("given") / "everything"
    CliRunner().invoke(group, ["-w", str(demo.root), "export", str(target), "--quiet"], catch_exceptions=False)
    return target


def test_everything_is_there_twice_and_explained(demo: Workspace, given: Path) -> None:
    told = {each["name"] for each in json.loads((given / "dictionary.json").read_text(encoding="utf-8"))["relations"]}
    with connect(demo.root) as connection:
        for kind in ("tables", "views"):
            for path in sorted((given / "parquet" / kind).glob("*.parquet")):
                assert path.stem in told
                rows = fetch(connection, f'select count(*) from "{path.stem}"').item()
                assert pl.read_parquet(path).height == rows
                csv = given / "csv" / kind / f"{path.stem}.csv"
                assert pl.read_csv(csv, infer_schema_length=0).height == rows
        value = fetch(connection, "select sum(mass_g) from weighing").item()
        heights = fetch(connection, "select count(*), sum(height_mm) from compaction_height").row(0)
    assert pl.read_parquet(given / "parquet" / "tables" / "weighing.parquet")["mass_g"].sum() == pytest.approx(value)
    long = pl.read_parquet(given / "parquet" / "series" / "compaction_height.parquet")
    assert (long.height, long["height_mm"].sum()) == (heights[0], pytest.approx(heights[1]))


def test_it_never_writes_over_anything(demo: Workspace, given: Path) -> None:
    before = sorted(given.rglob("*"))
    with pytest.raises(ExportError, match="not an empty folder"):
        export(demo, given, moment=None, long_as_csv=False)
    assert sorted(given.rglob("*")) == before


def test_figures_that_change_are_told_with_why(demo: Workspace, corrected: Workspace) -> None:
    found = differences(contents(demo.root), contents(corrected.root))
    figures = changed_figures(found)
    assert figures is not None
    assert set(figures["why"]) == {"what it rests on is read otherwise", "checked otherwise"}
    assert set(figures.filter(pl.col("why") == "checked otherwise")["property"]) == {"gsb_blend"}
    assert {"vma", "vfa"} <= set(figures["property"])
    assert changed_figures({}) is None
    rows = found["property_value"]
    for column, words in (("formula_version", "formula changed"), ("route", "computed by another way")):
        after = pl.when(pl.col("side") == "after").then(pl.lit("another")).otherwise(pl.col(column))
        told = changed_figures({"property_value": rows.with_columns(after.alias(column))})
        assert told is not None
        assert set(told["why"]) == {words}
    gone = changed_figures({"property_value": rows.filter(side="before")})
    assert gone is not None
    assert set(gone["why"]) == {"not computed any more"}
