"""Mix pages: figures as handed, the 0.45-power chart worked out by hand, states and revisions, and what is lacking."""

import re

import polars as pl
import pytest

from plugins.renderers.charts.frame import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH
from plugins.renderers.sections.mix_pages import mix_pages
from tests.pages.invented import half_even
from tests.pages.invented_mixes import SIEVES
from tests.pages.reading import read, rows

_MIX = "mix/FIELD-7-A.html"


def _place(sieve: float, passing: float, largest: float = 19.0) -> str:
    """Return where a sieve stands in the chart, from the definition of the axis: opening to the power 0.45."""
    across = LEFT + sieve**0.45 / largest**0.45 * (WIDTH - LEFT - RIGHT)
    up = HEIGHT - BOTTOM - passing / 100 * (HEIGHT - TOP - BOTTOM)
    return f"{across:.1f} {up:.1f}"


def _path(page: str, kind: str) -> list[str]:
    return re.findall(rf'class="{kind}" d="M([^"]*)"', page)


def test_phases_stand_side_by_side_as_handed(whole, pages) -> None:
    handed = whole["mix_phases"].filter((pl.col("mix_id") == "FIELD-7-A") & (pl.col("property") == "air_voids"))
    row = handed.row(0, named=True)
    shown = next(cells for cells in rows(pages[_MIX], "phases") if cells[0] == "Air voids")
    columns = ("target", "verification", "startup", None, "production_less_target", "production_less_verification")
    for cell, column in zip(shown[1:], columns, strict=False):
        assert column is None or cell == half_even(row[column], 1).replace("-", "−")
    assert shown[4] == f"4.4 ± {half_even(0.45, 1)} % n 9"


def test_a_figure_without_target_has_a_gap_and_no_difference(pages) -> None:
    shown = next(cells for cells in rows(pages[_MIX], "phases") if cells[0].startswith("Voids in the mineral"))
    assert shown[1] == "" and shown[5] == "" and shown[6] == "0.3"


def test_sieves_stand_on_the_power_axis(pages) -> None:
    design = _path(pages[_MIX], "curve s0")
    assert "L".join(_place(sieve, passing) for sieve, passing in sorted(SIEVES.items())) in design


def test_the_line_of_maximum_density_is_straight_to_the_maximum_size(pages) -> None:
    assert _path(pages[_MIX], "guide") == [f"{_place(0, 0)}L{_place(19.0, 100.0)}"] * 2


def test_tolerance_and_control_points_stand_at_their_sieves(pages) -> None:
    assert _path(pages[_MIX], "tolerance") == [f"{_place(4.75, 63.0)}L{_place(4.75, 51.0)}"] * 2
    marks = set(_path(pages[_MIX], "limit"))
    assert marks == {f"{_place(*at)}m-9 0h18" for at in ((2.36, 28.0), (2.36, 58.0), (12.5, 90.0))}


def test_states_stand_latest_first_and_the_lead_has_the_last(whole, pages) -> None:
    handed = whole["mix_states"].filter(pl.col("mix_id") == "FIELD-7-A")
    found = rows(pages[_MIX], "state")
    assert [row[0] for row in found] == [str(day) for day in handed["taken_on"].reverse()]
    assert all(("out: voids" in row[2]) == (state == "check") for row, state in zip(
        found, handed["state"].reverse(), strict=True))  # fmt: skip
    assert handed["state"][-1].replace("_", " ") in read(pages[_MIX]).text.split("As of")[0]


def test_revisions_stand_latest_first(pages) -> None:
    assert [row[:2] for row in rows(pages[_MIX], "revisions")] == [["2", "2026-08-01"], ["1", "2026-05-01"]]


def test_a_sampled_mix_without_design_says_what_is_lacking(whole) -> None:
    bare = {name: whole[name] for name in ("run", "projects", "samples")}
    ((_, page),) = mix_pages(bare, frozenset({"FIELD-7"}))
    text = read(page.decode()).text
    for said in ("No state:", "No sample of this mix has a result", "states no gradation", "holds no design"):
        assert said in text


@pytest.mark.parametrize("scope", [frozenset(), frozenset({"not registered"})])
def test_no_project_means_no_mix(whole, scope) -> None:
    assert list(mix_pages(whole, scope)) == []
