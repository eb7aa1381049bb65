"""Lots and control charts on the project page: figures as handed, signals marked, what is lacking said."""

import re

import polars as pl

from tests.pages.conftest import render
from tests.pages.reading import read, rows

_PAGE = "project/FIELD-7.html"


def test_every_lot_stands_with_its_figures(whole, pages) -> None:
    handed = whole["lots"].filter(pl.col("project_id") == "FIELD-7")
    found = rows(pages[_PAGE], "lots")
    assert len(found) == handed.height > 2
    for row in found:
        # 0.95 lies half-way between 0.9 and 1.0; the even digit is the 0 of 1.0 (ASTM E29).
        assert row[1] == "93.6 ± 1.0 % n 5, 1 left out"
        assert row[2:5] == ["at least 92.0", "95.50 %", "101.25 % equation"]
        assert row[5] == "the engineer decides a result stands out; it counts all the same few results"
    heads = _heads(pages[_PAGE])
    taken = whole["samples"].filter(pl.col("project_id") == "FIELD-7").group_by("lot").agg(pl.col("taken_on").max())
    day_of = dict(taken.iter_rows())
    assert sorted(heads) == sorted(
        f"Lot {lot} FIELD-7-A, last sample {day_of[lot]} as a whole 100.50 %, its only part" for lot in handed["lot"]
    )
    days = [head.split("last sample ")[1].split(" ")[0] for head in heads]
    assert days == sorted(days, reverse=True) and len(set(days)) > 1, "the latest stand first"


def _heads(page: str) -> list[str]:
    """Return the heads of the lots as text, without markup, in the order of the page."""
    section = page.split('<section id="lots">')[1].split("</section>", maxsplit=1)[0]
    found = re.findall(r'<th scope="rowgroup"[^>]*>(.*?)</th>', section)
    return [" ".join(re.sub(r"<[^>]*>", " ", head).split()).replace(" ,", ",") for head in found]


def _many(whole, count: int) -> pl.DataFrame:
    """Return lots 1 to `count` of one part each, of which nothing is to be minded."""
    lot = whole["lots"].filter(pl.col("project_id") == "FIELD-7").head(1)
    quiet = {"consequence": None, "reason": None, "retest": False, "removal": False, "outlier": False}
    calm = lot.with_columns(pl.lit(value, lot.schema[name]).alias(name) for name, value in quiet.items())
    return pl.concat([calm.with_columns(lot=pl.lit(f"{no:03}")) for no in range(1, count + 1)])


def test_what_needs_minding_stands_first_and_a_cut_list_says_so(whole) -> None:
    many = _many(whole, 302)
    reduced = pl.col("lot") == "200"
    # Lot 302 is owed a retest, lot 150 has a consequence, lot 200 is paid less; the others have nothing to mind.
    many = many.with_columns(
        retest=pl.col("lot") == "302",
        consequence=pl.when(pl.col("lot") == "150").then(pl.lit("pay is settled by the engineer")),
        composite_pct=pl.when(reduced).then(97.0).otherwise("composite_pct"),
    )
    page = render({**whole, "lots": many})[_PAGE]
    heads = [head.split(" ")[1] for head in _heads(page)]
    assert len(heads) == 200 == len(set(heads)) and heads[:3] == ["150", "200", "302"]
    assert "The first 200 of 302 lots are listed: those with something to mind, then the latest." in page
    assert "lots are listed" not in render({**whole, "lots": many.head(200)})[_PAGE]


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


def _pay(whole, **other: object) -> tuple[str, list[list[str]]]:
    """Render one lot of two parts, return its head and rows; `other` replaces what both have in common."""
    lot = whole["lots"].filter(pl.col("project_id") == "FIELD-7").head(1)
    second = lot.with_columns(plan_id=pl.lit("mix-voids"), property=pl.lit("air_voids"), pay_pct=98.0, weight=0.4)
    both = pl.concat([lot, second]).with_columns(**{name: pl.lit(value) for name, value in other.items()})
    page = render({**whole, "lots": both})[_PAGE]
    (head,) = _heads(page)
    return head, rows(page, "lots")


def test_pay_of_a_lot_stands_with_its_parts_and_their_weights(whole) -> None:
    head, (first, second) = _pay(whole)
    assert head.startswith(f"Lot {whole['lots']['lot'][0]} FIELD-7-A")
    assert head.endswith("as a whole 100.50 %, mean of the parts by their weights")
    assert first[4] == "101.25 %, weight 0.6 equation"
    assert second[0].startswith("Air voids") and second[4] == "98.00 %, weight 0.4 equation"
    assert "the engineer decides" in first[5]


def test_where_the_lowest_part_counts_no_weight_is_named(whole) -> None:
    head, parts = _pay(whole, composite_rule="lowest", composite_pct=98.0)
    assert head.endswith("as a whole 98.00 %, the lowest of the parts") and "weight" not in str(parts)


def test_a_lot_without_a_factor_as_a_whole_says_so(whole) -> None:
    head, _ = _pay(whole, composite_pct=None)
    assert head.endswith("as a whole none: a part has no factor")


def test_a_part_without_a_factor_says_why(whole) -> None:
    lots = whole["lots"].filter(pl.col("project_id") == "FIELD-7").head(1)
    bare = lots.with_columns(
        property=pl.lit("air_voids"), pay_pct=pl.lit(None, pl.Float64), pay_rule=pl.lit(None, pl.String)
    )
    page = render({**whole, "lots": pl.concat([lots, bare])})[_PAGE]
    assert rows(page, "lots")[1][4] == "no factor, weight 0.6" and "few results" in rows(page, "lots")[1][5]


def test_no_mean_over_lots_is_stated_and_why(whole, pages) -> None:
    # A lot of few tonnes must not weigh as much as a large one; the tables hand no quantity of a lot in.
    assert not {"quantity_t", "tonnage_t"} & set(whole["lots"].columns)
    assert "No mean over the lots is stated" in read(pages[_PAGE]).text


def test_without_a_pay_rule_every_lot_says_so(whole) -> None:
    bare = whole["lots"].with_columns(
        *(pl.lit(None, pl.Float64).alias(name) for name in ("pay_pct", "composite_pct")),
        *(pl.lit(None, pl.String).alias(name) for name in ("reason", "pay_rule")),
    )
    page = render({**whole, "lots": bare})[_PAGE]
    heads = _heads(page)
    assert heads and all(head.endswith("the specification set states no pay rule for it") for head in heads)
    assert all(row[4] == "" for row in rows(page, "lots"))


def test_a_cut_list_of_charts_says_so(whole) -> None:
    one = whole["charts"].filter(pl.col("project_id") == "FIELD-7")
    many = pl.concat([one.with_columns(mix_id=pl.lit(f"M-{no:03}")) for no in range(121)])
    page = render({**whole, "charts": many})[_PAGE]
    assert "The first 120 of 121 charts are listed" in page and len(rows(page, "charts")) == 120


def test_the_work_of_a_project_is_counted_by_state(whole, pages) -> None:
    own = whole["work"].filter(pl.col("project_id") == "FIELD-7")
    section = pages[_PAGE].split('<section id="work">')[1].split("</section>", maxsplit=1)[0]
    words = {"late": "late", "due": "due by a day", "open": "open, no day set"}
    counted = [f"{said}: {n}" for state, said in words.items() if (n := own.filter(pl.col("state") == state).height)]
    assert f"<p>{'; '.join(counted)}.</p>" in section and len(rows(section)) == own.height > 0
