"""The figures on the demo's pages equal what the published warehouse answers to SQL."""

import re
from collections.abc import Iterator
from decimal import Decimal
from html import unescape
from typing import Any

import pytest

from pipeline.workspace import Workspace
from plugins.renderers.verbs.slugs import slug
from tests.pages.reading import rows
from warehouse.read import connect

#: What counts in a mean: a result with a figure that no limit declined to judge.
_COUNTED = """SELECT v.* FROM sample_values v WHERE v.value IS NOT NULL AND NOT EXISTS (SELECT 1 FROM judgements j
    WHERE j.sample_id = v.sample_id AND j.property = v.property AND j.point IS NOT DISTINCT FROM v.point
    AND j.verdict = 'not_judged')"""
_MEANS = f"""SELECT property, point, avg(value), stddev_samp(value), count(*), min(value), max(value) FROM ({_COUNTED})
    WHERE project_id = ? GROUP BY ALL"""
_HEADED = ("air_voids", "vma", "vfa", "pb", "relative_compaction", "rut_depth", "dust_proportion")
_NUMBER = r"[−-]?\d[\d\u202f\u00a0]*(?:\.\d+)?"


@pytest.fixture(scope="module")
def store(demo: Workspace) -> Iterator[Any]:
    with connect(demo.root) as connection:
        yield connection


def _shows(shown: str, value: float | None) -> bool:
    """Return whether a number as it is shown is the value, rounded to the places that are shown."""
    plain = Decimal(re.sub("[\u202f\u00a0]", "", shown).replace("−", "-"))
    half = Decimal(5).scaleb(int(plain.as_tuple().exponent) - 1)
    return value is not None and abs(plain - Decimal(value)) <= half + Decimal("1e-9")


def _named(of: str, prop: str, point: float | None) -> str:
    return f'id="{of}-{slug(f"{prop} {point!r}" if point is not None else prop)}"'


def _row(page: str, named: str) -> str:
    """Return the table row that holds a thing of that id."""
    start = page.rindex("<tr", 0, page.index(named))
    return page[start : page.index("</tr>", start)]


@pytest.mark.parametrize("shown", ["3.94", "3.9", "4"])
def test_a_figure_is_told_from_its_neighbours(shown: str) -> None:
    step = Decimal(1).scaleb(int(Decimal(shown).as_tuple().exponent))
    assert _shows(shown, 3.9372)
    assert not _shows(str(Decimal(shown) + step), 3.9372) and not _shows(str(Decimal(shown) - step), 3.9372)


def test_the_summary_shows_means_spreads_counts_and_shares(demo: Workspace, store: Any) -> None:
    shown = rows((demo.pages / "summary.html").read_text(encoding="utf-8"), "all")
    projects = store.execute("SELECT project_id, project_name FROM project WHERE valid_to_run IS NULL").fetchall()
    assert len(projects) == len(shown) == 5
    checked = 0
    for project, name in projects:
        row = next(each for each in shown if each[0].startswith(name))
        (count,) = store.execute("SELECT count(*) FROM samples WHERE project_id = ?", [project]).fetchone()
        assert row[1].startswith(f"Samples {count} ")
        found = {(prop, point): rest for prop, point, *rest in store.execute(_MEANS, [project]).fetchall()}
        for cell, prop in zip(row[2:9], _HEADED, strict=True):
            told = re.search(rf" ({_NUMBER})(?: ± ({_NUMBER}))? ", cell)
            at = re.search(r"at ([\d\s]+) passes", cell)
            point = float("".join(at[1].split())) if at else None
            if told is None:
                assert prop not in {each for each, _ in found}, (name, prop, cell)
                continue
            mean, spread, many, *_ = found[prop, point]
            assert _shows(told[1], mean), (name, prop, cell, mean)
            assert spread is None or _shows(told[2], spread), (name, prop, cell, spread)
            assert re.search(rf"\bn {many}\b", cell), (name, prop, cell)
            checked += 1
        # In doubt is judged, too: what the decision rule of the set declines for the uncertainty alone.
        failed, judged = store.execute(
            "SELECT count(*) FILTER (verdict = 'fail'), count(*) FILTER (verdict <> 'not_judged') "
            "FROM judgements JOIN samples USING (sample_id) WHERE project_id = ?",
            [project],
        ).fetchone()
        assert f" {failed} of {judged}" in row[9]
    assert checked > 25


def test_project_pages_show_mean_spread_and_range_of_every_result(demo: Workspace, store: Any) -> None:
    checked = 0
    for path in sorted((demo.pages / "project").iterdir()):
        page = path.read_text(encoding="utf-8")
        for prop, point, mean, spread, many, least, most in store.execute(_MEANS, [path.stem]).fetchall():
            row = _row(page, _named("r", prop, point))
            figures = rows(f"<table>{row}</tr></table>")[0][1]
            told = re.match(
                rf"({_NUMBER})(?: ± ({_NUMBER}))?.*? n {many}, ({_NUMBER}) to ({_NUMBER})$", figures.strip()
            )
            assert told, (path.name, prop, point, figures)
            expected = (mean, spread if many > 1 else None, least, most)
            pairs = [(text, value) for text, value in zip(told.groups(), expected, strict=True) if value is not None]
            assert all(text is not None and _shows(text, value) for text, value in pairs), (prop, point, figures)
            checked += 1
    assert checked > 100


def test_sample_pages_show_every_value_or_say_that_it_is_withheld(demo: Workspace, store: Any) -> None:
    checked = 0
    for sample, prop, point, value in store.execute("SELECT sample_id, property, point, value FROM sample_values "
                                                    "ORDER BY sample_id").fetchall():  # fmt: skip
        page = (demo.pages / "sample" / f"{slug(sample)}.html").read_text(encoding="utf-8")
        figure = _row(page, _named("r", prop, point)).split("</td>")[1]
        told = re.search(r"<strong>([^<]*)</strong>", figure)
        if value is None:
            assert told is None and "withheld" in figure, (sample, prop, point, figure)
        else:
            assert told and _shows(told[1], value), (sample, prop, point, figure, value)
            checked += 1
    assert checked > 1000


def test_no_column_of_the_comparisons_is_empty(demo: Workspace, store: Any) -> None:
    page = (demo.pages / "summary.html").read_text(encoding="utf-8")
    for section in ("laboratories", "plants"):
        found = rows(page, section)
        table = [row for row in found if len(row) == max(len(each) for each in found)]
        assert len(table) > 2
        for column in zip(*table, strict=True):
            assert not all(cell.startswith("no target") or cell in ("", "–") for cell in column), column


def test_what_no_laboratory_has_a_target_of_is_no_column(demo: Workspace, store: Any) -> None:
    from pipeline.overview_tables import overview

    found = overview(store)
    for name, view in (("laboratory_figures", "laboratory_comparison"), ("plant_figures", "plant_comparison")):
        told = set(found[name]["property"])
        aimed = store.execute(f"SELECT DISTINCT property FROM {view} WHERE mean_off_target IS NOT NULL").fetchall()
        assert len(told) > 2 and told <= {row[0] for row in aimed}


@pytest.mark.parametrize("prop", ["gmm", "gmb", "gmb_n_design"])
def test_a_figure_names_the_way_it_was_found_and_no_other(demo: Workspace, store: Any, prop: str) -> None:
    ways = "FROM formula f JOIN property_value v USING (property, level, route, formula_version)"
    found = f"SELECT sample_id, list(DISTINCT equation) {ways} WHERE property = ? AND level = 'specimen' GROUP BY ALL"
    taken = {sample: set(equations) for sample, equations in store.execute(found, [prop]).fetchall()}
    assert len({frozenset(equations) for equations in taken.values()}) > (prop == "gmm"), "more than one way is taken"
    for sample, equations in taken.items():
        page = (demo.pages / "sample" / f"{slug(sample)}.html").read_text(encoding="utf-8")
        shown = re.search(r"<code>(.*?)</code>", _row(page, _named("r", prop, None)))
        assert shown is not None and set(unescape(shown[1]).split("; or ")) == equations, sample
