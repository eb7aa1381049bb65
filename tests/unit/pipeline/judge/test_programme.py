"""The work list: start-ups after stops and changes, states after failing results, calibrations, turn-round."""

from datetime import date, timedelta

import polars as pl
import pytest

from pipeline.judge import programme
from pipeline.judge.startups import startups, with_sources
from pipeline.judge.states import events
from tests.unit.pipeline.judge.frames import DAY, rows, samples

SETS = rows("specification_set", {"set_id": "S", "stop_days": 45, "stop_after_out": 2, "turn_round_days": 7})
DESIGN = {"mix_id": "M", "revision": 1, "valid_from": date(2026, 1, 1), "nmas_mm": 12.5, "plant": "Osk Hill"}
PILES = (
    {"mix_id": "M", "revision": 1, "stockpile": "sand", "share_pct": 100.0, "source": "Tarn Bottom"},
    {"mix_id": "M", "revision": 2, "stockpile": "sand", "share_pct": 100.0, "source": "Quay"},
)


def produced(*days: tuple[str, date], **given: object) -> pl.DataFrame:
    return samples(
        *({"sample_id": f"{n}", "phase": phase, "taken_on": day} | given for n, (phase, day) in enumerate(days))
    )


def owed(made: pl.DataFrame, *designs: dict[str, object]) -> list[str]:
    found = startups(made, SETS, with_sources(rows("mix_design", *(designs or (DESIGN,))), rows("stockpile", *PILES)))
    return found.filter(pl.col("subject") != "before production goes on")["sentence"].to_list()


START = ("startup", date(2026, 4, 1))


def test_a_stop_of_more_than_the_days_of_the_set_makes_startup_due_again() -> None:
    first = date(2026, 4, 8)
    within = produced(START, ("production", first), ("production", first + timedelta(days=45)))
    beyond = produced(START, ("production", first), ("production", first + timedelta(days=46)))
    assert owed(within) == []
    assert owed(beyond) == ["M was produced again on 2026-05-24 after a stop of 46 days, longer than 45"]


def test_a_startup_after_the_stop_settles_it() -> None:
    first = date(2026, 4, 8)
    again = ("startup", first + timedelta(days=50))
    assert owed(produced(START, ("production", first), again, ("production", first + timedelta(days=60)))) == []


def test_production_without_any_startup_is_told() -> None:
    assert owed(produced(("production", DAY))) == ["M went into production on 2026-05-07 without start-up"]
    assert owed(produced(("startup", DAY), ("production", DAY))) == []


def test_a_changed_source_makes_startup_due_again() -> None:
    second = DESIGN | {"revision": 2, "valid_from": date(2026, 5, 1), "plant": "Marl Cross"}
    made = samples(
        {"sample_id": "0", "phase": "startup", "taken_on": date(2026, 4, 1)},
        {"sample_id": "1", "taken_on": date(2026, 4, 8)},
        {"sample_id": "2", "taken_on": date(2026, 5, 4), "revision": 2},
    )
    assert owed(made, DESIGN, second) == [
        "M has been produced by revision 2 since 2026-05-04 without a new start-up; "
        "changed: plant Osk Hill to Marl Cross, sources sand of Tarn Bottom to sand of Quay"
    ]


def test_after_the_last_production_a_startup_is_due_before_it_goes_on() -> None:
    found = startups(
        produced(START, ("production", DAY)), SETS, with_sources(rows("mix_design", DESIGN), rows("stockpile"))
    )
    assert found.select("subject", "since", "due_on").rows() == [
        ("before production goes on", DAY + timedelta(days=46), None)
    ]


def test_a_set_without_the_rule_owes_nothing() -> None:
    free = rows("specification_set", {"set_id": "S"})
    assert startups(
        produced(("production", DAY)), free, with_sources(rows("mix_design", DESIGN), rows("stockpile"))
    ).is_empty()


def states(course: str) -> list[str]:
    """Return the states after a course of results: a/c for acceptance and control in, A/C for out."""
    made, judged = [], []
    for number, each in enumerate(course):
        name = f"{number:02d}"
        purpose = "control" if each.lower() == "c" else None
        made.append({"sample_id": name, "taken_on": DAY + timedelta(days=number), "purpose": purpose})
        verdict = "fail" if each.isupper() else "pass"
        judged.append(
            {"sample_id": name, "set_id": "S", "limit_id": "voids", "property": "air_voids", "verdict": verdict}
        )
    return events(samples(*made), rows("judgement", *judged), SETS)["state"].to_list()


@pytest.mark.parametrize(
    ("course", "told"),
    [
        ("aaca", "in_control in_control in_control in_control"),
        ("Aca", "check confirm in_control"),
        ("ACca", "check correct confirm in_control"),
        ("AA", "check stopped"),
        ("CC", "watch stopped"),
        ("CA", "watch correct"),
        ("ACC", "check correct stopped"),
        ("AAca", "check stopped confirm in_control"),
        ("AAaA", "check stopped confirm check"),
        ("AAC", "check stopped stopped"),
    ],
)
def test_states_after_failing_results(course: str, told: str) -> None:
    """NJDOT 2019, 902.02.04.D, p. 409."""
    assert states(course) == told.split()


def test_mixes_do_not_disturb_each_other() -> None:
    made = samples(
        *(
            {"sample_id": f"{mix}{n}", "mix_id": mix, "taken_on": DAY + timedelta(days=n)}
            for mix in "MN"
            for n in range(2)
        )
    )
    judged = rows(
        "judgement",
        *(
            {"sample_id": f"{mix}{n}", "set_id": "S", "limit_id": "voids", "property": "air_voids"}
            | {"verdict": "fail" if mix == "M" else "pass"}
            for mix in "MN"
            for n in range(2)
        ),
    )
    found = events(made, judged, SETS)
    assert found.select("mix_id", "event_no", "state").rows() == [
        ("M", 1, "check"),
        ("M", 2, "stopped"),
        ("N", 1, "in_control"),
        ("N", 2, "in_control"),
    ]


def test_samples_without_verdict_and_halves_are_no_events() -> None:
    made = samples({"sample_id": "A"}, {"sample_id": "B", "split_of": "A"})
    judged = rows(
        "judgement",
        *(
            {"sample_id": name, "set_id": "S", "limit_id": "v", "property": "vma", "verdict": verdict}
            for name, verdict in (("A", "not_judged"), ("B", "fail"))
        ),
    )
    assert events(made, judged, SETS).is_empty()


CALIBRATED = rows(
    "calibration",
    {"instrument_id": "I", "calibrated_on": date(2026, 1, 1), "due_on": date(2026, 5, 6), "outcome": "accepted"},
    {"instrument_id": "J", "calibrated_on": date(2026, 1, 1), "due_on": date(2026, 12, 31), "outcome": "accepted"},
    {"instrument_id": "J", "calibrated_on": date(2026, 5, 1), "due_on": date(2026, 5, 1), "outcome": "rejected"},
)


def test_use_without_a_valid_calibration_on_that_day() -> None:
    used = pl.DataFrame({"sample_id": "A", "instrument_id": ["I", "J", "K"], "used_on": DAY})
    told = programme.of_use(samples({}), used, CALIBRATED).sort("subject")["sentence"].to_list()
    assert told == [
        "I was used on 2026-05-07 for A: its calibration ended on 2026-05-06",
        "J was used on 2026-05-07 for A: its calibration of 2026-05-01 was rejected",
        "K was used on 2026-05-07 for A: no calibration is recorded before that day",
    ]
    in_time = used.with_columns(used_on=pl.lit(date(2026, 4, 30)))
    assert programme.of_use(samples({}), in_time, CALIBRATED)["subject"].to_list() == ["K"]


def test_the_end_of_a_calibration_is_listed_a_month_ahead() -> None:
    instruments = rows(
        "instrument",
        {"instrument_id": "I", "laboratory_id": "L", "kind": "balance"},
        {"instrument_id": "N", "laboratory_id": "L", "kind": "oven"},
    )
    told = programme.of_calibrations(instruments, CALIBRATED).sort("subject")
    assert told.select("subject", "since", "due_on").rows() == [
        ("I", date(2026, 4, 6), date(2026, 5, 6)),
        ("N", None, None),
    ]


def test_turn_round() -> None:
    made = samples({"sample_id": "late"}, {"sample_id": "fast"}, {"sample_id": "owing"}, {"sample_id": "untested"})
    judged = rows(
        "judgement",
        {"sample_id": "owing", "set_id": "S", "limit_id": "vma", "property": "vma", "verdict": "not_judged"},
    )
    tested = pl.DataFrame(
        {"sample_id": ["late", "fast", "owing"], "tested_on": [DAY + timedelta(days=each) for each in (9, 7, 3)]}
    )
    told = programme.of_turn_round(made, judged, SETS, tested).sort("sample_id")
    assert told.select("kind", "sample_id", "sentence").rows() == [
        ("late", "late", "the last test of late came 2 days after the agreed day"),
        ("overdue", "owing", "owing taken on 2026-05-07 owes vma"),
        ("overdue", "untested", "untested taken on 2026-05-07 owes all its results"),
    ]
    assert set(told["due_on"]) == {DAY + timedelta(days=7)}
