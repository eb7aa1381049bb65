"""The summary's own script in a browser: sorting, filtering, grouping by keyboard and pointer; without it, all."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.pages import invented
from tests.pages.conftest import render

sync_api = pytest.importorskip("playwright.sync_api", reason="the playwright package is not installed")
_CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
pytestmark = pytest.mark.skipif(_CHROMIUM is None, reason="no Chromium on this machine")

_ROWS = "#all tbody tr:not(.group)"


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("script")
    for name, text in render(invented.tables()).items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    return folder / "summary.html"


@pytest.fixture
def tab(browser: "sync_api.Browser", path: Path) -> Iterator["sync_api.Page"]:
    made = browser.new_page(viewport={"width": 1440, "height": 900})
    faults: list[str] = []
    made.on("console", lambda message: faults.append(message.text))
    made.on("pageerror", lambda fault: faults.append(str(fault)))
    made.goto(path.as_uri())
    yield made
    made.close()
    assert not faults


def _names(tab: "sync_api.Page") -> list[str]:
    shown = tab.locator(_ROWS)
    return [row.locator(".who").inner_text() for row in shown.all() if row.is_visible()]


def _column(tab: "sync_api.Page", column: int) -> list[float]:
    return [
        float(row.locator("th, td").nth(column).locator("data").first.get_attribute("value") or "nan")
        for row in tab.locator(_ROWS).all()
    ]


def test_a_head_sorts_by_its_figures_and_says_so(tab: "sync_api.Page") -> None:
    head = tab.locator("#all thead th", has_text="Air voids").last
    head.locator("button").click()
    upwards = _column(tab, 2)
    assert upwards == sorted(upwards) and len(upwards) == 5
    assert head.get_attribute("aria-sort") == "ascending"
    head.locator("button").click()
    assert _column(tab, 2) == sorted(upwards, reverse=True)
    assert head.get_attribute("aria-sort") == "descending"
    assert tab.locator("#all [aria-sort]").count() == 1


def test_the_keyboard_alone_sorts(tab: "sync_api.Page") -> None:
    tab.locator("#all thead th button", has_text="Samples").focus()
    tab.keyboard.press("Shift+Tab")
    assert tab.evaluate("document.activeElement.textContent") == "Project"
    tab.keyboard.press("Enter")
    tab.keyboard.press("Space")
    assert _names(tab) == sorted(_names(tab), reverse=True)
    assert tab.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"


def test_a_phone_sorts_without_the_head(browser: "sync_api.Browser", path: Path) -> None:
    tab = browser.new_page(viewport={"width": 390, "height": 900})
    tab.goto(path.as_uri())
    tab.get_by_label("Sort by").select_option(label="Samples")
    tab.get_by_label("Sort by").select_option(label="Project")
    tab.get_by_role("combobox", name="Order").select_option(label="downwards")
    assert _names(tab) == sorted(_names(tab), reverse=True)
    tab.close()


def test_a_filter_leaves_what_holds_the_words(tab: "sync_api.Page") -> None:
    tab.get_by_label("Filter").fill("north")
    assert _names(tab) == ["North pass climbing lane"]
    assert tab.locator("output").inner_text() == "1 of 5 projects shown"
    tab.get_by_role("button", name="Show all again").click()
    tab.wait_for_function("document.querySelector('output').value === '5 of 5 projects shown'")
    assert len(_names(tab)) == 5


def test_only_projects_with_something_outside_or_to_do(tab: "sync_api.Page") -> None:
    for option, mark in (("outside", ".mark.fail"), ("open", "data.owe")):
        tab.locator("select[name=show]").select_option(option)
        rows = tab.locator(_ROWS).all()
        assert [row.is_visible() for row in rows] == [row.locator(mark).count() > 0 for row in rows]


@pytest.mark.parametrize("group", ["region", "laboratory", "plant", "grade"])
def test_the_reader_chooses_the_groups(tab: "sync_api.Page", group: str) -> None:
    tab.get_by_label("Group by").select_option(group)
    heads = tab.locator("#all tr.group th").all_inner_texts()
    stated = tab.locator(f'{_ROWS} [data-group="{group}"]').all_inner_texts()
    assert heads == [f"{name} ({stated.count(name)})" for name in sorted(set(stated))]
    for body in tab.locator("#all tbody").all():
        name = body.locator("tr.group bdi").inner_text()
        inside = body.locator(f'tr:not(.group) [data-group="{group}"]').all_inner_texts()
        assert inside and set(inside) == {name}


def test_a_cell_opens_the_samples_behind_it(tab: "sync_api.Page") -> None:
    tab.locator(f"{_ROWS} td:nth-of-type(2) a").first.click()
    tab.wait_for_load_state()
    anchor = tab.url.partition("#")[2]
    assert anchor.startswith("s-")
    listed = tab.locator(f"#{anchor} a").first
    assert listed.is_visible(), "the folded list opens for the link"
    listed.click()
    assert "/sample/" in tab.url


def test_without_script_every_row_stands_there_and_no_empty_control(browser: "sync_api.Browser", path: Path) -> None:
    context = browser.new_context(java_script_enabled=False)
    tab = context.new_page()
    tab.goto(path.as_uri())
    assert tab.locator(_ROWS).count() == 5
    assert all(row.is_visible() for row in tab.locator(_ROWS).all())
    assert not tab.locator("form").is_visible() and tab.locator("button:visible").count() == 0
    context.close()


def test_no_other_script_may_run(browser: "sync_api.Browser", path: Path) -> None:
    tab = browser.new_page()
    refused: list[str] = []
    tab.on("console", lambda message: refused.append(message.text))
    tab.goto(path.as_uri())
    ran = tab.evaluate(
        """() => { const script = document.createElement('script');
                   script.textContent = 'window.stranger = true'; document.body.append(script);
                   return window.stranger === true; }"""
    )
    assert not ran and "Content Security Policy" in refused[0]
    tab.close()
