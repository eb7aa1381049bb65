"""Work list and data quality: every item and refusal stands where it belongs, counted, linked, and cut with a word."""

import polars as pl

from plugins.renderers.sections import work
from plugins.renderers.sections.quality_page import REFUSED_SHOWN, quality_html
from plugins.renderers.sections.work_page import PER_PROJECT, work_html
from schemas.vocabulary import ItemKind
from tests.pages.reading import read, rows

#: Kind of an item -> group, put together by hand from the sentences of the vocabulary.
_GROUP = {"overdue": "late", "missing": "missing", "in_doubt": "doubtful", "retest": "owed", "stop": "owed",
          "calibration": "owed"}  # fmt: skip


def test_every_kind_of_item_has_one_group() -> None:
    grouped = [kind for kinds in work.GROUPS.values() for kind in kinds]
    assert sorted(grouped) == sorted(ItemKind)


def test_counts_by_project_and_lot_equal_the_items(whole, pages) -> None:
    shown = {tuple(row[:3]): row[3:] for row in rows(pages["due.html"], "counts")}
    expected: dict[tuple[str, ...], dict[str, int]] = {}
    for item in whole["work"].iter_rows(named=True):
        place = (item["project_id"] or "of no one project", item["mix_id"] or "", item["lot"] or "")
        counted = expected.setdefault(place, dict.fromkeys(work.GROUPS, 0))
        counted[_GROUP[item["kind"]]] += 1
    assert shown == {place: [str(n or "") for n in counted.values()] for place, counted in expected.items()}
    assert len(shown) > 5


def test_every_item_stands_in_its_project_with_remedy_and_day(whole, pages) -> None:
    for project in whole["projects"]["project_id"]:
        items = whole["work"].filter(pl.col("project_id") == project)
        found = rows(pages["due.html"], f"p-{project}")
        assert len(found) == items.height
        for item in items.iter_rows(named=True):
            row = next(row for row in found if item["sentence"] in row[2])
            assert row[0].startswith(_GROUP[item["kind"]]) and row[3] == item["remedy"]
            assert {"late": "late was due", "due": "due by", "open": "open, no day set"}[item["state"]] in row[4]
            assert str(item["due_on"] or item["since"]) in row[4]
    assert "Of no one project" in read(pages["due.html"]).text


def test_late_items_come_first(whole, pages) -> None:
    for project in whole["projects"]["project_id"]:
        late = ["was due" in row[4] for row in rows(pages["due.html"], f"p-{project}")]
        assert late == sorted(late, reverse=True)


def test_the_lead_says_how_many_on_which_day(whole, pages) -> None:
    states = whole["work"]["state"].to_list()
    said = f"{len(states)} items on 2026-05-14: {states.count('late')} past the day agreed, {states.count('due')} with"
    assert said in read(pages["due.html"]).text


def test_a_long_list_is_cut_and_says_so(whole) -> None:
    many = pl.concat([whole["work"].filter(pl.col("project_id") == "FIELD-7").head(1)] * 3000)
    page = work_html({**whole, "work": many}).decode()
    assert len(rows(page, "p-FIELD-7")) == PER_PROJECT and "3000 in all" in read(page).text
    assert ["FIELD-7", "FIELD-7-A", "", "3000", "", "", ""] in rows(page, "counts")


def test_ten_thousand_items_in_400_projects_stay_small(whole) -> None:
    one = whole["work"].filter(pl.col("project_id") == "FIELD-7").head(1)
    names = pl.DataFrame({"project_id": [f"P{number % 400:03}" for number in range(10_000)]})
    many = one.drop("project_id").join(names, how="cross")
    page = work_html({**whole, "work": many})
    assert len(page) < 1_500_000
    assert "Its items are counted above, not listed." in read(page.decode()).text


def test_refusals_stand_with_place_reason_and_remedy_apart_from_what_waits(whole, pages) -> None:
    for stage, section in (("read", "refused"), ("match", "unmatched")):
        found = rows(pages["quality.html"], section)
        handed = whole["refusals"].filter(pl.col("stage") == stage)
        assert len(found) == handed.height > 0
        for refusal in handed.iter_rows(named=True):
            assert [
                refusal["file_name"],
                refusal["place"] or "whole file",
                refusal["reason"],
                refusal["remedy"],
            ] in found


def test_refusals_of_quality_are_cut_and_counted(whole) -> None:
    many = pl.DataFrame(
        {"file_name": [f"f{n:04}" for n in range(900)], "stage": ["read"] * 900, "reason": ["torn"] * 900}
    )
    page = quality_html({**whole, "refusals": many}).decode()
    assert len(rows(page, "refused")) == REFUSED_SHOWN
    assert f"900 in all, the first {REFUSED_SHOWN} are listed" in read(page).text


def test_a_lapsed_calibration_stands_once_with_its_samples(whole, pages) -> None:
    (row,) = rows(pages["quality.html"], "lapsed")
    handed = whole["lapsed"]
    assert row[0].startswith("QL-2") and row[1] == "2026-03-01"
    assert row[2].startswith(f"{handed['tested_on'].min()} to {handed['tested_on'].max()}")
    assert "42 specimens of 14 samples" in row[2]
    assert row[3].count("HB-") == 12 and row[3].endswith(", …")


def test_drift_shows_the_last_quarter_farthest_first_and_marks_what_lies_far(pages) -> None:
    far, near = rows(pages["quality.html"], "drift")
    # Shift over its standard error, by hand: 3 × 0.004 / (0.012 / √30) = 5.48 and −0.0003 / (0.012 / √30) = −0.14.
    assert far[0].startswith("QL-2") and "0.0120 ± 0.0120" in far[2] and "2025, quarter 4" in far[2]
    assert far[3] == "▲ 5.5 standard errors"
    assert near[0].startswith("QL-3") and "−0.0003" in near[2] and near[3] == "0.1 standard errors"


def test_arrivals_stand_month_by_month(whole, pages) -> None:
    found = rows(pages["quality.html"], "arrivals")
    assert len(found) == whole["arrivals"].height
    assert found[0] == ["2026-05", "press", "25", "1", "2", "1", "5000", "3", "4", "1"]


def test_nothing_to_show_says_something_true(whole) -> None:
    empty = {"run": whole["run"]}
    assert "No required result is missing" in read(work_html(empty).decode()).text
    text = read(quality_html(empty).decode()).text
    for said in ("No file and no row stands refused", "too few to tell a drift", "cannot be told", "No export has"):
        assert said in text
