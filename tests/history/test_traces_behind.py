"""Behind a lot's figure stand its results, each with judgement and trace; behind a cell of the summary, samples."""

import json
import re
import statistics
from typing import Any

import polars as pl
import pytest
from click.testing import CliRunner

from pipeline.cli.group import group
from pipeline.workspace import Workspace
from warehouse.read import connect
from warehouse.sql import fetch

LOT = ("FALLOW", "FALLOW-S12", "1")


def asked(demo: Workspace, *given: str) -> Any:
    done = CliRunner().invoke(group, ["-w", str(demo.root), "trace", *given, "--json"], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return json.loads(done.output)


def told(demo: Workspace, *given: str) -> str:
    return CliRunner().invoke(group, ["-w", str(demo.root), "trace", *given], catch_exceptions=False).output


def every_lot(demo: Workspace) -> list[tuple[str, str, str, str]]:
    with connect(demo.root) as connection:
        query = "SELECT project_id, mix_id, lot, plan_id FROM lots WHERE n > 0 ORDER BY ALL"
        return connection.execute(query).fetchall()


def test_the_results_of_each_lot_give_its_mean_and_deviation(demo: Workspace) -> None:
    lots = every_lot(demo)
    assert len(lots) >= 5
    for project, mix, lot, plan in lots[:8]:
        (figure,) = asked(demo, plan, "--lot", project, mix, lot)
        counting = [one["trace"]["value"] for one in figure["results"] if one["counts"]]
        assert len(counting) == figure["lot"]["n"]
        assert statistics.fmean(counting) == pytest.approx(figure["lot"]["mean"], rel=1e-12)
        if len(counting) > 1:
            assert statistics.stdev(counting) == pytest.approx(figure["lot"]["s"], rel=1e-9)


def test_a_figure_of_a_lot_leads_to_rule_judgement_and_line(demo: Workspace) -> None:
    (figure,) = asked(demo, "relative_compaction", "--lot", *LOT)
    first = figure["results"][0]
    assert first["label"] == "QL-0015/1" and first["judgements"][0]["verdict"] == "pass"
    assert first["trace"] == asked(demo, "relative_compaction", "QL-0015", "--specimen", "1")
    text = told(demo, "relative_compaction", "--lot", *LOT)
    for part in (
        "pay       102.00 %",
        "pass by limit compaction of FALLOW-26",
        "balance_journal/QL-1-20260626.csv, line 5",
    ):
        assert part in text


def test_a_result_that_does_not_count_is_shown_as_such(demo: Workspace) -> None:
    with connect(demo.root) as connection:
        query = "SELECT project_id, mix_id, lot, plan_id, left_out FROM lots WHERE left_out IS NOT NULL ORDER BY ALL"
        project, mix, lot, plan, left_out = connection.execute(query).fetchall()[0]
    (figure,) = asked(demo, plan, "--lot", project, mix, lot)
    assert next(one["label"] for one in figure["results"] if not one["counts"]) == left_out.partition("=")[0]


@pytest.mark.parametrize(
    ("name", "title"),
    [
        ("air_voids", "Air voids, %"),
        ("vma", "Voids in the mineral aggregate, %"),
        ("relative_compaction", "Density of the core as a share of Gmm of the lot, %"),
    ],
)
def test_a_cell_of_the_summary_leads_to_its_samples(demo: Workspace, name: str, title: str) -> None:
    """Mean, deviation and number are those the page shows in the row of the project."""
    cell = asked(demo, name, "--project", "FALLOW")
    counting = [one["value"] for one in cell["samples"] if one["counts"]]
    assert cell["mean"] == pytest.approx(statistics.fmean(counting), rel=1e-12)
    assert cell["s"] == pytest.approx(statistics.stdev(counting), rel=1e-9)
    page = demo.summary_page.read_text(encoding="utf-8")
    row = re.sub(r"(\s*<[^>]+>\s*)+", "|", page[page.index(">Fallow Ridge") :])
    shown = row[row.index(title) :].split("|")
    assert shown[1:3] == [f"{cell['mean']:.1f}", f"± {cell['s']:.1f}"] and shown[4] == f"n {len(counting)}"
    assert f"of {len(counting)} samples that count" in told(demo, name, "--project", "FALLOW")


def test_a_cell_with_places_is_asked_by_place(demo: Workspace) -> None:
    sieve = asked(demo, "passing", "--project", "FALLOW", "--at", "0.075")
    assert sieve["unit"] == "%" and sieve["samples"]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("x", "--lot", *LOT), "Its plans accept on: relative_compaction, air_voids"),
        (("air_voids", "--lot", "FALLOW", "FALLOW-S12", "99"), "no plan was applied to lot 99"),
        (("x", "--project", "FALLOW"), "has no 'x'. It has:"),
        (("vma", "--project", "NOWHERE"), "Projects there are:"),
        (("passing", "--project", "FALLOW"), "name one with --at"),
        (("core_gmb", "QL-0015", "--specimen", "77"), "has no 'core_gmb'"),
        (("--project", "FALLOW"), "give PROPERTY"),
        (("vma", "--project", "FALLOW", "--specimen", "1"), "--specimen needs a SAMPLE"),
    ],
)
def test_what_cannot_be_traced_is_said(demo: Workspace, given: tuple[str, ...], said: str) -> None:
    done = CliRunner().invoke(group, ["-w", str(demo.root), "trace", *given])
    assert done.exit_code != 0
    assert said in (done.stderr + str(done.exception))


def test_sql_leads_from_a_lot_to_the_figures_it_rests_on(demo: Workspace) -> None:
    """The figures that count give the number, mean and deviation the lot is judged by; the others are there too."""
    with connect(demo.root) as connection:
        rows = fetch(
            connection,
            "select l.project_id, l.mix_id, l.lot, l.plan_id, l.n, l.mean, l.s, l.left_out, "
            "count(*) filter (f.counts) as n_found, "
            "avg(f.value) filter (f.counts) as mean_found, stddev_samp(f.value) filter (f.counts) as s_found, "
            "count(*) filter (not f.counts) as others from lots l "
            "join lot_figures f using (project_id, mix_id, lot, set_id, plan_id) "
            "where l.mean is not null group by all",
        )
        lots = fetch(connection, "select count(*) from lots where mean is not null").item()
    assert rows.height == lots > 10
    assert rows["n"].to_list() == rows["n_found"].to_list()
    assert rows["mean_found"].to_list() == pytest.approx(rows["mean"].to_list())
    several = rows.filter(pl.col("s").is_not_null())
    assert several.height > 5
    assert several["s_found"].to_list() == pytest.approx(several["s"].to_list())
    assert rows.filter(pl.col("left_out").is_not_null())["others"].min() >= 1
