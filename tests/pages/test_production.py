"""Lots and control charts on the project page: figures as handed, signals marked, what is lacking said."""

import polars as pl

from tests.pages.conftest import render
from tests.pages.reading import read, rows

_PAGE = "project/FIELD-7.html"


def test_every_lot_stands_with_its_figures(whole, pages) -> None:
    handed = whole["lots"].filter(pl.col("project_id") == "FIELD-7")
    found = rows(pages[_PAGE], "lots")
    assert len(found) == handed.height > 2
    for row, lot in zip(found, handed["lot"], strict=True):
        assert row[0] == f"{lot} FIELD-7-A"
        # 0.95 lies half-way between 0.9 and 1.0; the even digit is the 0 of 1.0 (ASTM E29).
        assert row[2] == "93.6 ± 1.0 % n 5, 1 left out"
        assert row[3:6] == ["at least 92.0", "95.50 %", "101.25 % lot as a whole 100.50 %"]
        assert row[6] == "the engineer decides a result stands out; it counts all the same few results"


def test_a_chart_stands_with_its_limits_and_signals(whole, pages) -> None:
    handed = whole["charts"].filter(pl.col("project_id") == "FIELD-7")
    (row,) = rows(pages[_PAGE], "charts")
    signals = handed.filter(pl.col("signals").is_not_null())
    assert row[0] == "Air voids FIELD-7-A" and row[1] == "4.4 %" and row[2] == "3.0 to 5.8"
    assert row[3] == (
        f"■ {signals.height} of {handed.height} first {signals['taken_on'].min()}: beyond 3 sigma, action"
    )
    chart = pages[_PAGE].split('id="charts"')[1].split("</section>")[0]
    assert chart.count("m-3-3h6v6h-6z") == signals.height > 0


def test_without_lots_and_charts_the_sections_say_why(whole) -> None:
    bare = {name: frame for name, frame in whole.items() if name not in {"lots", "charts"}}
    text = read(render(bare)[_PAGE]).text
    assert "No lot has been judged by an acceptance plan" in text and "long enough for a control chart" in text


def _pay(whole, **other: object) -> list[list[str]]:
    """Render one lot of two parts; `other` replaces what both have in common."""
    lot = whole["lots"].filter(pl.col("project_id") == "FIELD-7").head(1)
    second = lot.with_columns(plan_id=pl.lit("mix-voids"), property=pl.lit("air_voids"), pay_pct=98.0, weight=0.4)
    both = pl.concat([lot, second]).with_columns(**{name: pl.lit(value) for name, value in other.items()})
    return rows(render({**whole, "lots": both})[_PAGE], "pay")


def test_pay_of_a_lot_stands_with_its_parts_and_their_weights(whole) -> None:
    ((lot, composite, parts, consequence),) = _pay(whole)
    assert lot == f"{whole['lots']['lot'][0]} FIELD-7-A"
    assert composite == "100.50 % mean of the parts by their weights"
    assert "101.25 %, weight 0.6 equation" in parts and "Air voids 98.00 %, weight 0.4 equation" in parts
    assert "the engineer decides" in consequence


def test_where_the_lowest_part_counts_no_weight_is_named(whole) -> None:
    ((_, composite, parts, _),) = _pay(whole, composite_rule="lowest", composite_pct=98.0)
    assert composite == "98.00 % the lowest of the parts" and "weight" not in parts


def test_a_lot_without_a_factor_as_a_whole_says_so(whole) -> None:
    ((_, composite, _, _),) = _pay(whole, composite_pct=None)
    assert composite == "none: a part has no factor"


def test_no_mean_over_lots_is_stated_and_why(whole, pages) -> None:
    # A lot of few tonnes must not weigh as much as a large one; the tables hand no quantity of a lot in.
    assert not {"quantity_t", "tonnage_t"} & set(whole["lots"].columns)
    assert "No mean over the lots is stated" in read(pages[_PAGE]).text


def test_without_a_pay_rule_the_section_says_so(whole) -> None:
    bare = whole["lots"].with_columns(pay_pct=pl.lit(None, pl.Float64), reason=pl.lit(None, pl.String))
    assert "No lot has a pay factor" in read(render({**whole, "lots": bare})[_PAGE]).text


def test_the_work_of_a_project_is_counted_by_state(whole, pages) -> None:
    own = whole["work"].filter(pl.col("project_id") == "FIELD-7")
    section = pages[_PAGE].split('<section id="work">')[1].split("</section>", maxsplit=1)[0]
    words = {"late": "late", "due": "due by a day", "open": "open, no day set"}
    counted = [f"{said}: {n}" for state, said in words.items() if (n := own.filter(pl.col("state") == state).height)]
    assert f"<p>{'; '.join(counted)}.</p>" in section and len(rows(section)) == own.height > 0
