"""The trace forwards: what rests on a value is what moves when the value does."""

import json

import polars as pl
import pytest
from click.testing import CliRunner

from pipeline.cli.group import group
from pipeline.explain import TraceError
from pipeline.formulas import registry
from pipeline.formulas.model import Formula
from pipeline.sources import formula_inputs
from pipeline.workspace import Workspace
from schemas.describe import describe
from tests.history.conftest import MIX
from warehouse.read import connect
from warehouse.sql import fetch

KEY = ["sample_id", "level", "method", "specimen_no", "property", "point"]


def forwards(at: Workspace, *given: str) -> pl.DataFrame:
    done = CliRunner().invoke(group, ["-w", str(at.root), "trace", *given, "--json"], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return pl.DataFrame(json.loads(done.stdout)["figures"], infer_schema_length=None)


def keys(frame: pl.DataFrame) -> set[tuple[object, ...]]:
    return set(frame.select(KEY).iter_rows())


def test_what_rests_on_gsb_is_what_moved_when_it_was_corrected(corrected: Workspace) -> None:
    with connect(corrected.root) as connection:
        moved = fetch(connection, "select * from former_values")
    assert moved.height > 50
    # The gravity of the stockpiles does not rest on the one stated: it is only held against it, and flagged.
    checked = moved.filter(pl.col("property") == "gsb_blend")
    assert checked.height > 5
    found = keys(forwards(corrected, "--from-design", MIX, "1", "gsb"))
    assert found == keys(moved) - keys(checked)


def test_what_rests_on_an_export_is_what_a_trace_back_finds(demo: Workspace) -> None:
    """Air voids and VMA of a sample lead back to its journal, so they rest on it; its wheel test does not."""
    with connect(demo.root) as connection:
        name = fetch(
            connection,
            "select e.name from weighing w join export e using (export_hash) "
            "where w.sample_id = 'QL-0013' and w.method = 't166' and w.role = 'dry' and w.valid_to_run is null limit 1",
        ).item()
    figures = forwards(demo, "--from-export", name)
    own = figures.filter(sample_id="QL-0013", level="sample")["property"].to_list()
    assert {"gmb", "air_voids", "vma", "vfa"} <= set(own)
    assert not {"gmm", "pb", "rut_depth"} & set(own)
    trace = CliRunner().invoke(group, ["-w", str(demo.root), "trace", "vfa", "QL-0013"], catch_exceptions=False)
    assert name in trace.output


def test_cores_rest_on_the_gmm_of_their_lot(demo: Workspace) -> None:
    """In-place density is relative to the lot's Gmm: the flask's journal is under cores of other samples, too."""
    with connect(demo.root) as connection:
        row = fetch(
            connection,
            "select e.export_hash, w.sample_id, c.sample_id as core from weighing w join export e using (export_hash) "
            "join sample s on s.sample_id = w.sample_id join sample c using (project_id, mix_id, lot) "
            "where w.method = 't209' and c.material = 'core' and w.valid_to_run is null and s.valid_to_run is null "
            "and c.valid_to_run is null and c.sample_id <> w.sample_id order by all limit 1",
        ).row(0, named=True)
    figures = forwards(demo, "--from-export", row["export_hash"])
    cores = figures.filter(sample_id=row["core"])
    assert {"gmm_lot", "relative_compaction", "core_air_voids"} <= set(cores["property"])
    assert "core_gmb" not in set(cores["property"]) or "balance" in row["export_hash"]


def test_what_rests_on_a_calibration_lies_between_it_and_the_next(demo: Workspace) -> None:
    first = forwards(demo, "--from-calibration", "TW-GP3", "2026-01-20")
    second = forwards(demo, "--from-calibration", "TW-GP3", "2026-09-14")
    assert not keys(first) & keys(second)
    with connect(demo.root) as connection:
        pressed = fetch(
            connection,
            "select sample_id, specimen_no from compaction_run "
            "where instrument_id = 'TW-GP3' and valid_to_run is null and stated_at < '2026-09-14'",
        )
    specimens = first.filter(property="gmb_n_design", level="specimen").select("sample_id", "specimen_no")
    assert set(specimens.iter_rows()) <= set(pressed.iter_rows())
    slopes = first.filter(property="compaction_slope", level="specimen").select("sample_id", "specimen_no")
    assert slopes.height > 30
    assert set(slopes.iter_rows()) <= set(pressed.iter_rows())


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("--from-export", "no-such"), "no export 'no-such'"),
        (("--from-calibration", "TW-GP3", "2026-01-21"), "It was calibrated on 2026-01-20, 2026-09-14."),
        (("--from-calibration", "XX", "2026-01-21"), "Instruments with calibrations:"),
        (("--from-design", "SEDGE-S9", "9", "gsb"), "SEDGE-S9 1"),
        (("--from-design", "SEDGE-S9", "1", "gsbb"), "It has: gsb"),
    ],
)
def test_what_is_not_there_is_told_with_what_there_is(demo: Workspace, given: tuple[str, ...], said: str) -> None:
    with pytest.raises(TraceError, match=said):
        CliRunner().invoke(group, ["-w", str(demo.root), "trace", *given], catch_exceptions=False)


def test_inputs_of_formulas_name_columns_that_exist() -> None:
    rows = formula_inputs(registry.load())
    named = rows.drop_nulls("column_name").select("record", "column_name").unique()
    assert named.height > 15
    for record, column in named.iter_rows():
        describe(record).column(column)
    assert set(rows.filter(kind="record")["record"]) >= {"weighing", "mix_design", "compaction_height", "wheel_depth"}


def test_every_formula_of_records_takes_something_in() -> None:
    known = registry.load()
    versions = set(formula_inputs(known)["formula_version"])
    lacking = [registry.label(route) for route in known.routes if registry.version(route) not in versions]
    by_hand = [registry.label(route) for route in known.routes if isinstance(route, Formula) and route.by_hand_only]
    assert set(lacking) <= set(by_hand)
