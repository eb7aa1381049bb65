"""The plan of density by station and offset: figures as handed in, sides told by shape and word, what lacks is said."""

import re

import polars as pl
import pytest

from tests.pages.conftest import render
from tests.pages.invented_lots import CORES, GAUGE
from tests.pages.reading import read, rows

_NAME = "FIELD-7"
_PAGE = f"project/{_NAME}.html"


# The register of properties handed in does not know the figure of the gauge, so that it has no unit here.


def _section(page: str) -> str:
    return page.split('<section id="density">')[1].split("</section>", maxsplit=1)[0]


def _with(whole: dict[str, pl.DataFrame], places: pl.DataFrame) -> str:
    return render({**whole, "density_places": places})[_PAGE]


@pytest.fixture
def lot(whole) -> pl.DataFrame:
    """Give the places of the first sample of cores of the project."""
    own = whole["density_places"].filter(pl.col("project_id") == _NAME)
    return own.filter(pl.col("sample_id") == own["sample_id"][0])


def test_every_place_stands_with_the_figures_handed_in(whole, lot) -> None:
    found = rows(_with(whole, lot), "density")
    sample = lot["sample_id"][0]
    assert [row[:3] for row in found] == [
        ["1", f"{sample}/1", "1210.5 m −1.8 m"],
        ["2", f"{sample}/2", "1263 m 2.25 m"],
        ["3", f"{sample}/3", "1300.2 m 0.4 m"],
        ["4", f"{sample}/5", "1330.7 m −0.9 m"],
        ["5", f"{sample}/4", ""],
    ]
    assert [row[3] for row in found] == [
        "core 93.6 % ✓ within the limits",
        "core 91.8 % ▼ below the lower limit gauge 92.1 ○ no limit",
        "core 97.4 % ▲ above the upper limit",
        "gauge 93.2 ○ no limit",
        "core 94.0 % ✓ within the limits",
    ]


def test_the_plan_marks_places_where_they_lie_and_tells_sides_by_shape(whole, lot) -> None:
    section = _section(_with(whole, lot))
    plan = section.split("</svg>")[0]
    marks = re.findall(r'<path class="place (\w+) (\w+)" d="M([\d.]+) ([\d.]+)(m[^"]+)"/>', plan)
    assert [mark[:2] for mark in marks] == [
        ("core", "within"), ("core", "below"), ("core", "above"), ("gauge", "none"),
    ]  # fmt: skip
    assert len({mark[4] for mark in marks}) == 4
    across, up = ([float(mark[place]) for mark in marks] for place in (2, 3))
    stations = [core[0] for core in CORES[:3]] + [GAUGE[1][1]]
    offsets = [core[1] for core in CORES[:3]] + [GAUGE[1][2]]
    for drawn, real in ((across, stations), (up, offsets)):
        shares = [(each - min(real)) / (max(real) - min(real)) for each in real]
        assert [(each - min(drawn)) / (max(drawn) - min(drawn)) for each in drawn] == pytest.approx(shares, abs=0.002)
    assert 'role="img"' in plan and "<title>" in plan
    assert "1: core, within the limits; 2: core, below the lower limit; 3: core, above the upper limit" in plan
    assert "92.0 to 97.0 %; limits of the lot&#39;s acceptance plan" in section


def test_a_core_without_station_is_counted_and_said(whole, lot) -> None:
    text = read(_section(_with(whole, lot))).text
    assert "1 of 5 places have no station or offset on record" in text


def test_without_any_station_nothing_is_drawn_and_the_figures_stand(whole, lot) -> None:
    bare = lot.with_columns(station=pl.lit(None, pl.Float64))
    section = _section(_with(whole, bare))
    assert 'role="img"' not in section and "nothing can be drawn" in section
    assert len(rows(section)) == 5 and "91.8" in section


def test_all_outside_are_all_marked_so(whole, lot) -> None:
    low = lot.filter(pl.col("property") == "relative_compaction").with_columns(
        value=pl.lit(90.0), text=pl.lit("90.0"), side=pl.lit("below")
    )
    section = _section(_with(whole, low))
    assert all(row[3] == "core 90.0 % ▼ below the lower limit" for row in rows(section))
    assert "core, below the lower limit: 3" in read(section).text and "within" not in section.replace("within or", "")


def test_without_limits_nothing_is_said_to_lie_within(whole, lot) -> None:
    none = pl.lit(None, pl.Float64)
    word = pl.lit(None, pl.String)
    section = _section(_with(whole, lot.with_columns(lower=none, upper=none, basis=word, side=word)))
    assert "No limit is on record for these places" in section
    assert "✓" not in section and section.count("no limit") > 5


def test_a_figure_withheld_is_told(whole, lot) -> None:
    none = pl.lit(None, pl.String)
    held = lot.with_columns(value=pl.lit(None, pl.Float64), text=none, side=none, withheld=pl.lit("no Gmm of the lot"))
    assert rows(_with(whole, held), "density")[0][3] == "core no figure ○ no limit no Gmm of the lot"


def test_a_doubtful_figure_is_told(whole, lot) -> None:
    doubted = lot.with_columns(flags=pl.lit("few_cores water_absorbed"))
    assert rows(_with(whole, doubted), "density")[0][3].endswith("doubtful: few cores, water absorbed")


def test_a_replaced_core_names_the_other(whole, lot) -> None:
    swapped = lot.with_columns(replaced_by=pl.when(pl.col("specimen_no") == "3").then(pl.lit("9")))
    assert rows(_with(whole, swapped), "density")[2][3].endswith("replaced by 9")


def test_no_core_is_said(whole) -> None:
    text = read(_with(whole, whole["density_places"].clear())).text
    assert "No core was cut and no density was read" in text


def test_hostile_labels_stay_text_in_the_plan(whole, lot) -> None:
    bad = "</title><script>alert(1)</script>{number}"
    poisoned = lot.with_columns(pl.lit(bad).alias(name) for name in ("lot", "specimen_no", "place_unit", "mix_id"))
    section = _section(_with(whole, poisoned))
    seen = read(section)
    assert "<script" not in section and not seen.faults and "&lt;script&gt;" in section


def test_lots_beyond_those_drawn_are_counted(whole, lot) -> None:
    many = pl.concat([lot.with_columns(lot=pl.lit(f"L{number:02}")) for number in range(62)])
    section = _section(_with(whole, many))
    assert section.count('role="img"') == 40 and "The first 40 of 62 lots are drawn." in section
