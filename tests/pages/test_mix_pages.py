"""Mix pages: figures as handed, the 0.45-power chart worked out by hand, states and revisions, and what is lacking."""

import datetime as dt
import math
import re
import time

import polars as pl
import pytest

from plugins.renderers.charts import timeline
from plugins.renderers.charts.frame import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH
from plugins.renderers.sections.mix_pages import mix_pages
from plugins.renderers.verbs.presentation import Presentation, shown_as
from plugins.renderers.verbs.tables import TABLES
from tests.pages import invented_mixes
from tests.pages.invented import half_even
from tests.pages.invented_mixes import FOLLOWED, SIEVES
from tests.pages.reading import read, rows

_MIX = "mix/FIELD-7-A.html"


def _place(sieve: float, passing: float, largest: float = 19.0) -> str:
    """Return where a sieve stands in the chart, from the definition of the axis: opening to the power 0.45."""
    across = LEFT + sieve**0.45 / largest**0.45 * (WIDTH - LEFT - RIGHT)
    up = HEIGHT - BOTTOM - passing / 100 * (HEIGHT - TOP - BOTTOM)
    return f"{across:.1f} {up:.1f}"


def _path(page: str, kind: str) -> list[str]:
    gradation = page.split('<section id="gradation">')[1].split("</section>", maxsplit=1)[0]
    return re.findall(rf'class="{kind}" d="M([^"]*)"', gradation)


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


def test_the_chart_says_how_its_curves_lie_to_the_limits(pages) -> None:
    limits = {4.75: (51.0, 63.0), 2.36: (28.0, 58.0), 12.5: (90.0, math.inf)}
    held = sum(low <= SIEVES[sieve] <= high for sieve, (low, high) in limits.items())
    gradation = pages[_MIX].split('<section id="gradation">')[1].split("</section>", maxsplit=1)[0]
    title, said = re.findall(r'role="img"><title>([^<]*)</title><desc>([^<]*)</desc>', gradation)[0]
    assert title == "passing, % against sieve opening, mm, to the power 0.45"
    first, last = min(SIEVES), max(SIEVES)
    assert said.startswith(f"design: from {SIEVES[first]:g} at {first:g} to {SIEVES[last]:g} at {last:g}; ")
    assert f"design: within the limits at {held} of the 3 sieves that have one" in said


def test_in_us_units_sieves_are_called_by_their_designations(whole, pages) -> None:
    # ASTM E11, table of nominal dimensions: alternative designations of these openings (from memory).
    designations = {19.0: "3/4 in", 12.5: "1/2 in", 9.5: "3/8 in", 4.75: "No. 4", 2.36: "No. 8", 0.075: "No. 200"}
    with shown_as(Presentation(units="us")):
        page = _only(whole)
    axis = page.split('<section id="gradation">')[1].split("</svg>", maxsplit=1)[0]
    for opening, name in designations.items():
        across = _place(opening, 0.0).split(" ")[0]
        assert f'<text x="{across}" y="{HEIGHT - BOTTOM + 15}" text-anchor="middle">{name}</text>' in axis
    assert {row[0] for row in rows(page, "gradation")} == {designations[sieve] for sieve in SIEVES}
    assert "mm" not in axis and [row[4] for row in rows(page, "revisions")] == ["1/2 in"] * 2
    assert "mm" in pages[_MIX].split('<section id="gradation">')[1].split("</svg>", maxsplit=1)[0]


def test_what_the_design_aims_at_stands_and_the_rest_is_folded(pages) -> None:
    phases = pages[_MIX].split('<section id="phases">')[1].split("</section>", maxsplit=1)[0]
    standing, folded = phases.split('<details class="fold">', maxsplit=1)
    assert "Air voids" in standing and "Voids in the mineral" not in standing
    assert "Voids in the mineral" in folded and "states no target of: 1" in folded


def test_a_cut_list_of_states_says_so(whole) -> None:
    one = whole["mix_states"].filter(pl.col("mix_id") == "FIELD-7-A").head(1)
    page = _only(whole, mix_states=pl.concat([one.with_columns(event_no=pl.lit(no)) for no in range(201)]))
    assert "The latest 200 of 201 results are listed." in page and len(rows(page, "state")) == 200


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


def _figure(page: str, heading: str) -> str:
    return page.split(f"<figure><h3>{heading}</h3>")[1].split("</figure>", maxsplit=1)[0]


def _across_time(day: dt.date, first: dt.date, last: dt.date) -> float:
    inner = timeline.WIDTH - timeline.LEFT - timeline.RIGHT - 16
    return timeline.LEFT + 8 + (day - first) / (last - first) * inner


def test_every_result_stands_along_time_at_its_day_and_height(whole, pages) -> None:
    handed = whole["mix_trends"].filter((pl.col("mix_id") == "FIELD-7-A") & (pl.col("property") == "vfa"))
    drawn = re.findall(r'class="run" d="M([^"]*)"', _figure(pages[_MIX], "Voids filled with asphalt"))[0].split("L")
    places = [tuple(map(float, place.split(" "))) for place in drawn]
    days, values = handed["taken_on"].to_list(), handed["value"].to_list()
    assert [x for x, _ in places] == pytest.approx([_across_time(d, days[0], days[-1]) for d in days], abs=0.06)
    # Heights of the axis are proportional: the labelled grid says which value stands where.
    grid = [(float(at), float(y)) for y, at in re.findall(
        r'class="grid" d="M40 ([\d.]+)H350"/><text [^>]*>([\d.]+)<', _figure(pages[_MIX], "Voids filled with asphalt")
    )]  # fmt: skip
    (a, ya), (b, yb) = grid[0], grid[-1]
    assert [y for _, y in places] == pytest.approx([ya + (v - a) / (b - a) * (yb - ya) for v in values], abs=0.15)


def test_points_tell_and_link_what_was_handed(whole, pages) -> None:
    handed = whole["mix_trends"].filter(pl.col("mix_id") == "FIELD-7-A").filter(pl.col("property") == "air_voids")
    figure = _figure(pages[_MIX], "Air voids")
    points = re.findall(r'<a href="\.\./sample/([\w-]+)\.html" tabindex="-1"><title>([^<]*)</title>(.*?)</a>', figure)
    assert [slug for slug, _, _ in points] == handed["sample_id"].to_list()
    for (_, told, shape), row in zip(points, handed.iter_rows(named=True), strict=True):
        assert told.startswith(f"{row['sample_id']}, {row['taken_on']}: {half_even(row['value'], 1)} %, ")
        assert ('class="tri"' in shape) == (row["value"] > row["upper"])
        assert ("above" in told) == (row["value"] > row["upper"])
        assert ('class="flagged"' in shape) == (row["flags"] is not None) == ("flagged: Water absorption" in told)


def test_a_chart_says_what_it_comes_to_and_what_is_lacking(whole, pages) -> None:
    total = whole["mix_trend_totals"].filter(pl.col("mix_id") == "FIELD-7-A").filter(pl.col("property") == "pb")
    row = total.row(0, named=True)
    said = f"results: {row['samples']}, outside: {row['outside']}, flagged: {row['flagged']}"
    assert f"{said}; latest target 5.10 %; latest limits 4.80 to 5.40 %</figcaption>" in _figure(
        pages[_MIX], "Binder content"
    )
    bare = _figure(pages[_MIX], "Dust proportion")
    assert "the design states no target; no limit holds</figcaption>" in bare
    assert 'class="aim"' not in bare and 'class="edge"' not in bare and 'class="band"' not in bare
    vma = _figure(pages[_MIX], "Voids in the mineral aggregate")
    assert vma.count('class="edge"') == 1 and 'class="aim"' not in vma and "at least 14.0 %" in vma


def test_charts_are_images_with_title_and_description(pages) -> None:
    found = re.findall(r'<g role="img"><title>([^<]+)</title><desc>([^<]+)</desc>', pages[_MIX])
    assert len(found) == len(FOLLOWED) + 2 and all("FIELD-7-A" in title for title, _ in found)


def test_a_change_of_target_moves_the_line_from_its_first_result_on(whole) -> None:
    first = whole["mix_trends"].filter((pl.col("mix_id") == "FIELD-7-A") & (pl.col("property") == "pb"))
    later = pl.int_range(pl.len()) >= 9
    moved = first.with_columns(target=pl.when(later).then(5.3).otherwise("target"))
    ((page, *_),) = ([p.decode() for slug, p in mix_pages(whole | {"mix_trends": moved}, None) if slug == "FIELD-7-A"],)
    lines = re.findall(r'class="aim" d="M([\d.]+) ([\d.]+)H([\d.]+)"', _figure(page, "Binder content"))
    assert len(lines) == 2 and lines[0][2] == lines[1][0] and float(lines[1][1]) < float(lines[0][1])
    days = first["taken_on"].to_list()
    assert float(lines[1][0]) == pytest.approx(_across_time(days[9], days[0], days[-1]), abs=0.06)


def test_wheel_tests_stand_as_handed_with_the_requirement_named(whole, pages) -> None:
    figure = _figure(pages[_MIX], "Rut depth")
    handed = whole["mix_rut"].filter(pl.col("mix_id") == "FIELD-7-A")
    across = lambda x: LEFT + x / 20000 * (WIDTH - LEFT - RIGHT)  # noqa: E731
    down = lambda y: TOP + y / 15 * (HEIGHT - TOP - BOTTOM)  # noqa: E731
    wanted = [
        "L".join(f"{across(x):.1f} {down(y):.1f}" for x, y in rows.select("wheel_pass", "depth_mm").iter_rows())
        for rows in handed.partition_by("sample_id", maintain_order=True)
    ]
    drawn = re.findall(r'class="curve thin s(\d)" d="M([^"]*)"', figure)
    assert [path for _, path in drawn] == wanted
    styles = {"pass": "0", "fail": "1", None: "3"}
    verdicts = [rows["verdict"][0] for rows in handed.partition_by("sample_id", maintain_order=True)]
    assert [style for style, _ in drawn] == [styles[verdict] for verdict in verdicts]
    assert f'class="limit" d="M{across(10000):.1f} {down(12.5):.1f}m-12 0h24"' in figure
    assert ">PG 64-22</text>" in figure
    ends = [rows["depth_mm"][-1] for rows in handed.partition_by("sample_id", maintain_order=True)]
    told = f"They end at {half_even(min(ends), 1)} to {half_even(max(ends), 1)} mm; {verdicts.count('fail')} of"
    assert f"{told} {len(verdicts)} lie outside a limit.</desc>" in figure
    assert "Requirement for PG 64-22: at most 12.5 mm at 10\u202f000 passes (contract, table 4)." in figure


def test_densification_stands_on_the_logarithm_of_gyrations_with_its_levels(whole, pages) -> None:
    figure = _figure(pages[_MIX], "Densification")
    handed = whole["mix_density"].filter(pl.col("mix_id") == "FIELD-7-A").partition_by("sample_id", maintain_order=True)
    across = lambda n: LEFT + math.log(n) / math.log(200) * (WIDTH - LEFT - RIGHT)  # noqa: E731
    up = lambda y: HEIGHT - BOTTOM - (y - 80) / 20 * (HEIGHT - TOP - BOTTOM)  # noqa: E731
    drawn = re.findall(r'class="curve thin s\d" d="M([^"]*)"', figure)
    assert len(drawn) == len(handed)
    first = [tuple(map(float, place.split(" "))) for place in drawn[0].split("L")]
    wanted = [(across(n), up(y)) for n, y in handed[0].select("gyration", "gmm_pct").iter_rows()]
    assert first == [pytest.approx(place, abs=0.06) for place in wanted]
    upright = re.findall(r'class="guide" d="M([\d.]+) [\d.]+V', figure)
    assert [float(x) for x in upright] == pytest.approx([across(n) for n in (7, 75, 115)], abs=0.06)
    assert "N initial 7, N design 75, N maximum 115" in figure


def test_stockpiles_stand_with_their_combined_gravity(pages) -> None:
    assert rows(pages[_MIX], "blend") == [
        ["coarse", "60.5", "Low Pit", "2.650", ""],
        ["sand", "39.5", "Low Pit", "", ""],
    ]
    assert "Combined bulk specific gravity of the blend, Gsb: 2.642" in read(pages[_MIX]).text


def _only(whole, **tables: pl.DataFrame) -> str:
    made = dict(mix_pages(whole | tables, frozenset({"FIELD-7"})))
    return made["FIELD-7-A"].decode()


def test_no_wheel_test_no_levels_and_no_stockpiles_are_said(whole) -> None:
    designs = whole["mixes"].with_columns(
        pl.lit(None, pl.Int64).alias(n) for n in ("n_initial", "n_design", "n_maximum")
    )
    none = {name: whole[name].clear() for name in ("mix_rut", "mix_rut_limits", "stockpile", "mix_gravity")}
    page = _only(whole, mixes=designs, **none)
    for said in ("No wheel test of this mix has been read.", "states no numbers of gyrations", "no stockpiles of this"):
        assert said in page
    assert "<h3>Rut depth</h3>" not in page and 'class="guide"' not in _figure(page, "Densification")
    bare = _only(whole, mix_rut_limits=whole["mix_rut_limits"].clear(), mix_gravity=whole["mix_gravity"].clear())
    assert "No limit on rut depth holds for this mix." in bare and "Combined bulk" not in bare
    empty = _only(whole, **none, mix_density=whole["mix_density"].clear(), mix_trends=whole["mix_trends"].clear())
    assert "has volumetrics yet" in empty and "Neither a wheel test nor a densification" in empty


def test_a_single_sample_stands_in_the_middle(whole) -> None:
    keep = pl.col("sample_id") == whole["mix_trends"].filter(pl.col("mix_id") == "FIELD-7-A")["sample_id"][0]
    names = ("mix_trends", "mix_rut", "mix_density")
    page = _only(whole, **{name: whole[name].filter(keep) for name in names})
    middle = timeline.LEFT + (timeline.WIDTH - timeline.LEFT - timeline.RIGHT) / 2
    assert page.count(f'class="run" d="M{middle:.1f} ') == len(FOLLOWED)
    assert _figure(page, "Rut depth").count("curve thin") == 1 and not read(page).faults


def test_400_samples_stay_small_and_quick(whole) -> None:
    days = [dt.date(2024, 1, 1) + dt.timedelta(days=n) for n in range(400)]
    template = whole["samples"].filter(pl.col("mix_id") == "FIELD-7-A").row(0, named=True)
    samples = [
        {**template, "phase": "production", "sample_id": f"XL-{n:04}", "taken_on": day} for n, day in enumerate(days)
    ]
    made = invented_mixes.tables(samples)
    made["mix_rut"], made["mix_density"] = invented_mixes.curves({"mix_id": "FIELD-7-A"}, samples, points=60)
    frames = {
        name: pl.DataFrame(rows, schema_overrides=dict(TABLES[name]), infer_schema_length=None)
        for name, rows in {**made, "samples": samples}.items()
    }
    started = time.perf_counter()
    page = _only(whole, **frames)
    assert time.perf_counter() - started < 5
    assert len(page.encode()) < 1_500_000
    assert page.count("curve thin") == 2 * 400 and page.count('class="dot"') > 400


def test_dates_follow_the_format_that_is_asked_for(whole) -> None:
    with shown_as(Presentation(date_pattern="%d.%m.%Y", decimal_mark=",")):
        page = _only(whole)
    assert "01.08.2026" in page and "2026-08-01" not in page
    assert re.search(r"<title>QL-\d+, \d\d\.\d\d\.2026: 3,1 %", page)
