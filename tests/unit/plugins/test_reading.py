"""Each format is read exactly: every value, unit, time and line of a small export."""

from datetime import date, datetime
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from schemas.validate import validate
from tests.unit.plugins.examples import examples, export, importers

Row = dict[str, Any]


def read(name: str, folder: Path) -> dict[str, pl.DataFrame]:
    reading = importers()[name].read([export(folder, examples()[name])])
    assert reading.refused.rows() == []
    return dict(reading.frames)


def rows(frame: pl.DataFrame, *columns: str) -> list[tuple[Any, ...]]:
    return frame.select(columns).rows()


def constant(frame: pl.DataFrame, **values: object) -> None:
    for column, value in values.items():
        assert frame[column].unique().to_list() == [value], column


@pytest.mark.parametrize("name", sorted(examples()))
def test_what_is_read_keeps_the_schema(name: str, tmp_path: Path) -> None:
    frames = read(name, tmp_path)
    assert set(frames) == set(importers()[name].gives)
    for record, frame in frames.items():
        assert frame.height > 0
        checked = validate(frame, record)
        assert checked.refused.rows() == []
        assert checked.accepted.height == frame.height


def test_balance_journal(tmp_path: Path) -> None:
    frame = read("balance_journal", tmp_path)["weighing"]
    constant(frame, instrument_id="QL-2", issued_at=datetime(2026, 5, 7, 17, 40), source_part=None)
    columns = [
        "source_line",
        "sample_id",
        "specimen_no",
        "method",
        "role",
        "sieve_mm",
        "mass_g",
        "water_temperature_c",
        "stated_at",
    ]
    assert rows(frame, *columns) == [
        (5, "HB-0012", "1", "t166", "dry", None, 4712.3, None, datetime(2026, 5, 7, 9, 12, 5)),
        (6, "HB-0012", "1", "t166", "submerged", None, 2742.1, 25.1, datetime(2026, 5, 7, 9, 31, 40)),
        (7, "HB-0013", "B", "t30", "retained", 0.075, 17.9, None, datetime(2026, 5, 7, 9, 33, 2)),
    ]


def test_balance_slip_converts_the_units_it_prints(tmp_path: Path) -> None:
    frame = read("balance_slip", tmp_path)["weighing"].sort("source_line")
    constant(frame, sample_id="HB-0012", instrument_id="QL-3")
    columns = ["source_line", "specimen_no", "method", "role", "residual_pressure_kpa", "stated_at"]
    taken, later = datetime(2026, 5, 7, 10, 20), datetime(2026, 5, 7, 11, 0)
    assert rows(frame, *columns) == [
        (7, "1", "t209", "dry", None, taken),
        (8, "1", "t209", "container_water", None, taken),
        (9, "1", "t209", "container_sample_water", 3.6, taken),
        (20, "2", "t308", "before_burn", None, later),
        (21, "2", "t308", "after_burn", None, later),
    ]
    assert frame["mass_g"].to_list() == pytest.approx([1502.4, 7102.9, 8012.2, 1563.0, 1477.3])
    # 77 °F is 25 °C by the definition of the scales.
    water = frame["water_temperature_c"].to_list()
    assert water[0] is None and water[1:3] == pytest.approx([25.0, 25.0]) and water[3:] == [None, None]
    assert frame["issued_at"].unique().sort().to_list() == [datetime(2026, 5, 7, 10, 22), datetime(2026, 5, 7, 11, 2)]


def test_press_report(tmp_path: Path) -> None:
    frames = read("press_report", tmp_path)
    run = frames["compaction_run"]
    assert run.drop("export_hash").to_dicts() == [
        {
            "issued_at": datetime(2026, 5, 7, 11, 5), "stated_at": datetime(2026, 5, 7, 10, 58), "sample_id": "HB-0012",
            "specimen_no": "1", "instrument_id": "GP-1", "stop_rule": "gyrations", "gyrations": 2,
            "pressure_kpa": 600.4, "angle_deg": 1.16, "speed_per_min": 30.0, "mass_g": 4713.0,
            "mould_diameter_mm": 150.0, "mix_temperature_c": 145.0, "source_part": None, "source_line": 1,
        }
    ]  # fmt: skip
    heights = frames["compaction_height"]
    constant(heights, sample_id="HB-0012", specimen_no="1", issued_at=datetime(2026, 5, 7, 11, 5))
    assert rows(heights, "source_line", "gyration", "height_mm") == [(17, 0, 131.2), (18, 1, 129.0), (19, 2, 127.3)]


def test_press_json(tmp_path: Path) -> None:
    frames = read("press_json", tmp_path)
    run = frames["compaction_run"].to_dicts()[0]
    expected: Row = {
        "sample_id": "HB-0012", "specimen_no": "2", "instrument_id": "GP-2", "stop_rule": "height", "gyrations": 2,
        "pressure_kpa": 600.1, "mass_g": 4713.5, "mix_temperature_c": 146.0, "stated_at": datetime(2026, 5, 7, 10, 58),
    }  # fmt: skip
    assert {key: run[key] for key in expected} == expected
    heights = frames["compaction_height"]
    constant(heights, source_part="heights_mm")
    assert rows(heights, "source_line", "gyration", "height_mm") == [(1, 0, 131.2), (2, 1, 129.0), (3, 2, 127.25)]


@pytest.mark.parametrize(
    ("name", "machine", "lines", "reason", "loads", "voids"),
    [
        ("track_table", "WT-1", [15, 16, 15, 16], "depth", [705.0, 703.5], [7.1, 6.9]),
        ("track_xml", "WT-2", [7, 8, 11, 12], "operator", [703.1, 700.0], [7.0, 6.8]),
    ],
)
def test_wheel_tracking(
    name: str, machine: str, lines: list[int], reason: str, loads: list[float], voids: list[float], tmp_path: Path
) -> None:
    frames = read(name, tmp_path)
    runs = frames["wheel_run"].sort("wheel")
    constant(runs, instrument_id=machine, sample_id="HB-0012", specimen_no="1", passes=100, passes_set=20000)
    constant(runs, stop_reason=reason, speed_per_min=52.0, stated_at=datetime(2026, 5, 8, 15, 30))
    assert runs["wheel"].to_list() == ["left", "right"]
    assert runs["wheel_load_n"].to_list() == pytest.approx(loads)
    assert runs["specimen_air_voids_pct"].to_list() == voids
    assert runs["bath_set_c"].to_list() == pytest.approx([50.0, 50.0])
    depths = frames["wheel_depth"].sort("wheel", "wheel_pass")
    assert depths["source_line"].to_list() == lines
    assert rows(depths, "wheel", "wheel_pass", "depth_01_mm", "depth_11_mm") == [
        ("left", 50, 1.01, 1.11),
        ("left", 100, 2.01, 2.11),
        ("right", 50, 6.01, 6.11),
        ("right", 100, 7.01, 7.11),
    ]


def test_frame_trace(tmp_path: Path) -> None:
    """Loads come in kN and go into N, times of conditioning in hours and into minutes."""
    frames = read("frame_trace", tmp_path)
    (run,) = frames["load_test"].to_dicts()
    expected: Row = {
        "sample_id": "HB-0012", "specimen_no": "T4", "method": "t283", "instrument_id": "LF-1", "source_line": 1,
        "specimen_diameter_mm": 150.1, "specimen_thickness_mm": 95.2, "rate_mm_per_min": 50.0,
        "test_temperature_c": 25.1, "conditioning": "conditioned", "freeze_time_min": 990.0, "thaw_time_min": None,
        "issued_at": datetime(2026, 5, 12, 13, 40), "stated_at": datetime(2026, 5, 12, 13, 39, 30),
    }  # fmt: skip
    assert {key: run[key] for key in expected} == expected
    points = frames["load_point"]
    constant(points, sample_id="HB-0012", specimen_no="T4", method="t283")
    assert rows(points, "source_line", "reading", "time_s", "displacement_mm", "load_n") == [
        (14, 1, 0.0, 0.0, 0.0),
        (15, 2, 0.1, 0.083, 415.0),
        (16, 3, 0.2, 0.167, 1052.0),
    ]


def test_register_book(tmp_path: Path) -> None:
    frames = read("register_book", tmp_path)
    for frame in frames.values():
        constant(frame, issued_at=datetime(2026, 5, 1, 16, 30))
    samples = frames["sample"]
    constant(samples, source_part="Samples", project_id="NORTH", mix_id="QL-S12", laboratory_id="QL")
    assert rows(samples, "source_line", "sample_id", "material", "lot", "taken_on", "tonnage_t") == [
        (2, "QL-0001", "mix", "1", date(2026, 4, 30), 350.5),
        (4, "QL-0002", "core", None, date(2026, 5, 1), None),
    ]
    assert rows(frames["project"], "project_id", "character", "set_id") == [("NORTH", None, "NORTH-26")]
    assert rows(frames["calibration"], "due_on", "outcome") == [(date(2027, 1, 4), "accepted")]
    assert rows(frames["core"], "specimen_no", "offset_m", "lift", "thickness_mm") == [("1", -0.5, 1, 73.1)]
    assert rows(frames["instrument"], "instrument_id", "readability_g") == [("QL-2", 0.1)]
    assert rows(frames["laboratory"], "laboratory_id", "laboratory_name") == [("QL", "Quarry Lane")]


def test_mix_card(tmp_path: Path) -> None:
    frames = read("mix_card", tmp_path)
    design = frames["mix_design"].to_dicts()[0]
    expected: Row = {
        "mix_id": "QL-S12", "revision": 2, "valid_from": date(2026, 3, 5), "nmas_mm": 12.5, "binder_grade": "PG 58-28",
        "gb": 1.026, "pb_pct": 5.3, "gsb": 2.622, "gmm": None, "n_initial": 7, "n_design": 75, "n_maximum": None,
        "issued_at": datetime(2026, 3, 1, 8), "source_line": 1,
    }  # fmt: skip
    assert {key: design[key] for key in expected} == expected
    sieves = frames["mix_gradation"]
    constant(sieves, mix_id="QL-S12", revision=2)
    assert rows(sieves, "source_line", "sieve_mm", "passing_pct") == [(22, 19.0, 100.0), (23, 0.075, 4.6)]
    piles = frames["stockpile"]
    constant(piles, mix_id="QL-S12", revision=2, gsa=None)
    told = [(13, "crushed", 80.0, "Osk Hill", 2.63), (14, "sand", 20.0, None, None)]
    assert rows(piles, "source_line", "stockpile", "share_pct", "source", "gsb") == told


def test_limits_card(tmp_path: Path) -> None:
    frame = read("limits_card", tmp_path)["specification_limit"]
    constant(frame, set_id="NORTH-26", valid_from=date(2026, 1, 1), source="an invented contract")
    columns = [
        "source_line",
        "limit_id",
        "property",
        "point",
        "phase",
        "basis",
        "lower",
        "upper",
        "required",
        "excluding_flags",
        "mark",
    ]
    assert rows(frame, *columns) == [
        (6, "voids", "air_voids", None, "production", "from_target", -1.2, 1.2, True, "asymmetric outlier", None),
        (18, "passing", "passing", 0.075, None, "absolute", None, 6.0, False, None, "from memory"),
    ]
