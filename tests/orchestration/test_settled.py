"""Which files of the inbox have settled, and that a pass takes no others."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline import intake, settled
from pipeline.intake import Sighting
from pipeline.workspace import Workspace

SETTLE = 5.0


class Clock:
    """Time as the test sets it."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


def sighting(name: str = "a.csv", size: int = 10, mtime_ns: int = 1) -> Sighting:
    return Sighting(name, size, mtime_ns)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def watch(clock: Clock) -> settled.Watch:
    return settled.Watch(SETTLE, clock)


def test_a_file_settles_after_the_time_and_not_before(watch: settled.Watch, clock: Clock) -> None:
    assert watch.look([sighting()]) == frozenset()
    clock.now += SETTLE - 0.01
    assert watch.look([sighting()]) == frozenset()
    clock.now += 0.01
    assert watch.look([sighting()]) == {sighting()}


@pytest.mark.parametrize("changed", [sighting(size=11), sighting(size=9), sighting(mtime_ns=2), sighting(mtime_ns=0)])
def test_any_change_starts_the_time_anew(watch: settled.Watch, clock: Clock, changed: Sighting) -> None:
    watch.look([sighting()])
    clock.now += SETTLE - 1
    watch.look([changed])
    clock.now += SETTLE - 1
    assert watch.look([changed]) == frozenset()
    clock.now += 1
    assert watch.look([changed]) == {changed}


def test_an_old_time_stamp_is_no_proof(watch: settled.Watch) -> None:
    """A copy may carry the time stamp of the original from its first byte on."""
    assert watch.look([sighting(mtime_ns=0)]) == frozenset()


def test_a_file_that_went_and_came_back_starts_anew(watch: settled.Watch, clock: Clock) -> None:
    watch.look([sighting()])
    clock.now += SETTLE
    watch.look([])
    assert watch.look([sighting()]) == frozenset()


def test_one_growing_file_does_not_hold_up_another(watch: settled.Watch, clock: Clock) -> None:
    for second in range(8):
        ready = watch.look([sighting("still.csv"), sighting("growing.csv", size=second)])
        clock.now += 1
    assert ready == {sighting("still.csv")}


@given(st.lists(st.tuples(st.floats(0.1, 4), st.booleans()), min_size=1, max_size=30))
def test_settled_means_no_change_for_the_whole_time(looks: list[tuple[float, bool]]) -> None:
    """Whatever the rhythm of looks and changes: told apart from the watch by keeping the last change alone."""
    clock = Clock()
    watch = settled.Watch(SETTLE, clock)
    size, changed_at = 0, None
    for pause, grows in looks:
        clock.now += pause
        if grows or changed_at is None:
            size, changed_at = size + 1, clock.now
        ready = watch.look([sighting(size=size)])
        assert bool(ready) == (clock.now - changed_at >= SETTLE)


def test_the_note_comes_back_as_it_was(lab: Workspace) -> None:
    seen = {sighting("b/Ü 1.csv"), sighting("undecodable \udcff.txt", 0, 2**62), sighting('quote".txt')}
    settled.note(lab, seen)
    assert settled.noted(lab) == seen
    settled.note(lab, [])
    assert settled.noted(lab) == frozenset()


@pytest.mark.parametrize("torn", [b"", b"[[", b"{}x", b"[[1]]", b'[["a", "b", "c"]]', b"\xff"])
def test_without_a_readable_note_nothing_has_settled(lab: Workspace, torn: bytes) -> None:
    (lab.store / "settled.json").write_bytes(torn)
    assert settled.noted(lab) == frozenset()


def test_only_what_has_settled_is_taken_in(lab: Workspace) -> None:
    for name in ("still.txt", "growing.txt", "new.txt"):
        (lab.inbox / name).write_text(name)
    seen = {each.name: each for each in intake.sightings(lab.inbox)}
    settled.note(lab, [seen["still.txt"], seen["growing.txt"]])
    with (lab.inbox / "growing.txt").open("a") as more:
        more.write("more")

    arrivals, problems = intake.take_in(lab, [], settled.noted(lab))
    assert [each.name for each in arrivals] == ["still.txt"]
    assert problems == []
    assert {each.name for each in intake.unseen(lab, arrivals)} == {"growing.txt", "new.txt"}


def test_with_nothing_named_all_is_taken_in(lab: Workspace) -> None:
    for name in ("a.txt", "b.txt"):
        (lab.inbox / name).write_text(name)
    assert intake.take_in(lab, [], frozenset())[0] == []
    assert [each.name for each in intake.take_in(lab, [])[0]] == ["a.txt", "b.txt"]


def test_the_note_is_replaced_whole(lab: Workspace, tmp_path: Path) -> None:
    settled.note(lab, [sighting()])
    left = [path.name for path in lab.store.iterdir() if path.name.startswith("settled")]
    assert left == ["settled.json"]
