"""The project page in a real browser: what is folded is opened by a link to it, by the keyboard, and on paper."""

import io
import re
from html import unescape
from pathlib import Path
from typing import Any
from unicodedata import normalize

import polars as pl
import pypdf
import pytest

from tests.pages.conftest import render

_JUDGED = ("air_voids", "vma")


@pytest.fixture(scope="module")
def page(whole: dict[str, pl.DataFrame], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the page of a project some results of which are held against no limit."""
    target = tmp_path_factory.mktemp("project") / "FIELD-7.html"
    some = whole["judgements"].filter(pl.col("property").is_in(_JUDGED))
    target.write_text(render({**whole, "judgements": some})["project/FIELD-7.html"], encoding="utf-8")
    return target


def _folded(page: Path) -> str:
    """Return the markup of what is folded among the results."""
    return page.read_text(encoding="utf-8").split('<details class="fold">')[1].split("</table>", maxsplit=1)[0]


def _open(tab: Any) -> bool:
    return bool(tab.evaluate("document.querySelector('#results details.fold').open"))


def test_judged_results_stand_first_and_the_others_are_counted(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    standing = text.split('<section id="results">')[1].split('<details class="fold">', maxsplit=1)[0]
    assert ">not judged<" not in standing and standing.count('<tr id="r-') == len(_JUDGED)
    (count,) = re.findall(r"Results held against no limit: (\d+)", _folded(page))
    assert _folded(page).count('<tr id="r-') == int(count) > 3


def test_a_link_to_a_folded_row_opens_it(browser: Any, page: Path) -> None:
    anchor = re.findall(r'<tr id="(r-[\w-]+)"', _folded(page))[-1]
    tab = browser.new_page(viewport={"width": 1440, "height": 900})
    tab.goto(page.as_uri())
    assert not _open(tab)
    tab.goto(f"{page.as_uri()}#{anchor}")
    assert _open(tab) and tab.locator(f"#{anchor}").is_visible()
    tab.close()


def test_the_keyboard_opens_what_is_folded(browser: Any, page: Path) -> None:
    tab = browser.new_page()
    tab.goto(page.as_uri())
    tab.locator("#results details.fold > summary").focus()
    tab.keyboard.press("Enter")
    assert _open(tab)
    tab.close()


def test_paper_shows_what_is_folded(browser: Any, page: Path) -> None:
    tab = browser.new_page()
    tab.goto(page.as_uri())
    printed = pypdf.PdfReader(io.BytesIO(tab.pdf(format="A4")))
    tab.close()
    # Paper has ligatures and narrow spaces.
    words = " ".join(normalize("NFKC", " ".join(sheet.extract_text() for sheet in printed.pages)).split())
    titles = [normalize("NFKC", unescape(title)) for title in re.findall(r"<b>([^<]*)</b>", _folded(page))]
    assert len(titles) > 3 and [title for title in titles if title not in words] == []


def test_a_project_without_limits_opens_with_what_is_looked_at_first(whole: dict[str, pl.DataFrame]) -> None:
    made = render({**whole, "judgements": whole["judgements"].clear()})["project/FIELD-7.html"]
    results = made.split('<section id="results">')[1].split("</section>", maxsplit=1)[0]
    standing, folded = results.split('<details class="fold">')
    assert "Air voids" in standing and "Results held against no limit" in folded
