"""Random sampling plans: repeatable, inside their sublots and edges; what cannot be drawn is told."""

import tomllib
from datetime import datetime

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.judge.sampling import SamplingError, by_place, by_tonnage, numbers
from pipeline.sampling_card import card


def test_a_seed_gives_the_same_numbers_for_ever() -> None:
    # Mersenne Twister with seed 417, first outputs of Python's random(): the generator is frozen by its documentation.
    assert numbers(417, 3) == [0.931, 0.8013, 0.723]
    assert numbers(418, 3) != numbers(417, 3)


@given(seed=st.integers(0, 2**32 - 1), sublots=st.integers(1, 12), lot=st.floats(10, 9000))
def test_each_tonnage_lies_in_its_sublot(seed: int, sublots: int, lot: float) -> None:
    places = by_tonnage(numbers(seed, sublots), lot, 500.0)
    size = lot / sublots
    for number, tonnage in enumerate(places["tonnage_t"]):
        assert 500 + number * size - 0.05 <= tonnage <= 500 + (number + 1) * size + 0.05


@given(seed=st.integers(0, 2**32 - 1), width=st.floats(1.0, 8.0), edge=st.floats(0.0, 0.45))
def test_no_core_lies_within_the_edges(seed: int, width: float, edge: float) -> None:
    places = by_place(numbers(seed, 10), 100.0, 500.0, width, edge, -2.0)
    assert places.height == 5
    assert places.filter(pl.col("offset_m") < -2.0 + edge - 0.005).is_empty()
    assert places.filter(pl.col("offset_m") > -2.0 + width - edge + 0.005).is_empty()
    assert places["station_m"].is_sorted()


def test_what_cannot_be_drawn_is_told() -> None:
    with pytest.raises(SamplingError, match="no room for a core"):
        by_place(numbers(1, 4), 0, 100, 0.5, 0.3)
    with pytest.raises(SamplingError, match="a lot above 0 t"):
        by_tonnage(numbers(1, 4), 0)


def test_a_card_holds_the_draw_and_is_no_toml_once_it_is_cut() -> None:
    places = by_place(numbers(902, 10), 1200.0, 800.0, 3.6, 0.3, -1.8)
    written = card({"draw": 'a "draw"', "seed": 902, "reason": None}, datetime(2026, 5, 4, 7, 30), places)
    read = tomllib.loads(written)
    assert read["draw"] == 'a "draw"' and "reason" not in read
    assert pl.DataFrame(read["place"])["station_m"].to_list() == places["station_m"].to_list()
    for cut in range(written.index("place = [") + 1, len(written.rstrip())):
        with pytest.raises(tomllib.TOMLDecodeError):
            tomllib.loads(written[:cut])
