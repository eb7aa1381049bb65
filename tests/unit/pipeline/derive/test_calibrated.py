"""Figures read on an instrument out of calibration are flagged, and those that rest on them."""

from datetime import date, datetime

import pytest

from pipeline.derive import Inputs, derive
from pipeline.settings import Results
from pipeline.validation.records import design, frame, of_gmb, of_gmm, retained, sample, weighed

CODE = "calibration_lapsed"
Rows = list[dict[str, object]]


def flagged(calibrations: Rows, choices: Results | None = None, **records: Rows) -> set[tuple[str, str]]:
    """Return level and property of the figures flagged; everything was read on instrument I on 2 May 2025."""
    read = {"instrument_id": "I", "stated_at": datetime(2025, 5, 2, 10)}
    made: dict[str, Rows] = {name: [{**row, **read} for row in rows] for name, rows in records.items()}
    made |= {
        "sample": [sample()],
        "mix_design": [design(gb=1.03, gsb=2.65, pb_pct=5.3, n_initial=8, n_design=100, n_maximum=160)],
        "instrument": [{"instrument_id": "I", "laboratory_id": "L", "kind": "Balance"}],
        "calibration": [{"instrument_id": "I"} | row for row in calibrations],
    }
    found = derive(Inputs.of(**{name: frame(name, rows) for name, rows in made.items()}), choices).property_values
    return {(row["level"], row["property"]) for row in found.to_dicts() if CODE in (row["flags"] or "").split()}


def stated(on: date, due: date, outcome: str = "accepted") -> dict[str, object]:
    """Return a calibration."""
    return {"calibrated_on": on, "due_on": due, "outcome": outcome}


GOOD = stated(date(2025, 1, 1), date(2025, 12, 31))


@pytest.mark.parametrize(
    ("calibrations", "lapsed"),
    [
        ([], False),
        ([GOOD], False),
        ([stated(date(2025, 1, 1), date(2025, 5, 2))], False),
        ([stated(date(2025, 1, 1), date(2025, 5, 1))], True),
        ([GOOD, stated(date(2025, 4, 1), date(2026, 4, 1), "rejected")], True),
        ([GOOD, stated(date(2025, 6, 1), date(2026, 6, 1), "rejected")], False),
        ([stated(date(2025, 1, 1), date(2025, 5, 1)), stated(date(2025, 5, 2), date(2026, 5, 1))], False),
        ([stated(date(2024, 4, 1), date(2026, 4, 1))], True),
        ([stated(date(2025, 6, 1), date(2026, 6, 1))], False),
    ],
)
def test_what_counts_as_lapsed(calibrations: Rows, lapsed: bool) -> None:
    assert (("specimen", "gmb") in flagged(calibrations, weighing=of_gmb(2.4))) is lapsed


def test_the_interval_is_a_setting() -> None:
    choices = Results(calibration_months={"balance": 24})
    assert flagged([stated(date(2024, 4, 1), date(2026, 4, 1))], choices, weighing=of_gmb(2.4)) == set()


def test_every_figure_that_rests_on_the_reading_is_flagged() -> None:
    late = [stated(date(2024, 1, 1), date(2024, 12, 31))]
    found = flagged(
        late,
        weighing=of_gmb(2.4) + of_gmm(2.5) + retained({4.75: 400.0, 0.0: 100.0}) + weighed("t30", before_wash=500.0),
    )
    assert {("sample", "air_voids"), ("sample", "vma"), ("sample", "gmm"), ("sample", "passing")} <= found


@pytest.mark.parametrize(
    ("record", "row", "prop"),
    [
        (
            "load_test",
            {"method": "t283", "specimen_diameter_mm": 150.0, "specimen_thickness_mm": 95.0, "peak_load_stated_n": 2e4},
            "tensile_strength",
        ),
        ("compaction_run", {"gyrations": 100, "stop_rule": "gyrations"}, "gmb_n_design"),
    ],
)
def test_machines_count_like_balances(record: str, row: dict[str, object], prop: str) -> None:
    late = [stated(date(2024, 1, 1), date(2024, 12, 31))]
    key = {"sample_id": "S1", "specimen_no": "1"}
    weighing = of_gmb(2.4) if record == "compaction_run" else []
    assert ("specimen", prop) in flagged(late, weighing=weighing, **{record: [{**key, **row}]})
