"""Published values against computed ones, by the same code as `mixledger validate`."""

import pytest

from pipeline.validation import kinds
from pipeline.validation.entries import load
from pipeline.validation.model import Entry, Verdict
from tests.check_values.examples import entries, named

ENTRIES = load()


def test_data_files_hold_sources_and_are_complete() -> None:
    examples = entries("example")
    ids = [(each["file"], each["kind"], each["id"]) for each in examples]
    assert len(ids) == len(set(ids))
    assert len(examples) >= 60
    for each in examples:
        assert each["source"] and each["place"] and each["why"]
        assert each["mark"] in {"seen", "from memory", "computed", "own numbers", "constructed"}
    for each in ENTRIES:
        assert each["source"], (each["file"], each["kind"], each["number"])


def test_every_kind_of_entry_can_be_run() -> None:
    assert {entry["kind"] for entry in ENTRIES} <= kinds.known()


@pytest.mark.parametrize("entry", [named(each) for each in ENTRIES])
def test_check_value(entry: Entry) -> None:
    found = kinds.check(entry)
    assert found
    assert not [each for each in found if each.verdict is not Verdict.PASS]


def test_enough_examples_run_through_records() -> None:
    ways = [found.way for entry in entries("example") for found in kinds.check(entry)]
    assert ways.count("from records") >= 40


RIGHT = next(each for each in entries("example") if each["id"] == "EX-T166-1")
WRONG = RIGHT | {"published": 2.46}


def test_a_value_beyond_its_tolerance_fails() -> None:
    (by_hand, from_records) = kinds.check(WRONG)
    assert (by_hand.verdict, from_records.verdict) == (Verdict.FAIL, Verdict.FAIL)
    assert by_hand.difference == pytest.approx(2.455 - 2.46, abs=0.0005)


def test_a_missing_flag_fails() -> None:
    found = kinds.check(RIGHT | {"flags": ["gmb_not_below_gmm"]})
    assert [each.verdict for each in found] == [Verdict.FAIL, Verdict.FAIL]
    assert "gmb_not_below_gmm" in found[0].note


def test_a_misprint_that_follows_after_all_fails() -> None:
    found = kinds.check(RIGHT | {"follows": False, "recomputed": RIGHT["published"]})
    assert [each.verdict for each in found] == [Verdict.FAIL, Verdict.FAIL]


def test_values_accepted_though_they_contradict_fail() -> None:
    entry = entries("contradiction")[0]
    inputs = {name: value for name, value in entry["inputs"].items() if name != "gse"}
    (found,) = kinds.check(entry | {"inputs": inputs})
    assert found.verdict is Verdict.FAIL
    assert found.computed.startswith("accepted: -0.067")


def test_a_fault_and_an_unknown_kind_are_findings() -> None:
    (fault,) = kinds.check(WRONG | {"property": "no_such"})
    assert (fault.verdict, fault.note.split(":")[0]) == (Verdict.FAIL, "UnknownNameError")
    (unknown,) = kinds.check(WRONG | {"kind": "no_such"})
    assert unknown.verdict is Verdict.NOT_RUN
