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
