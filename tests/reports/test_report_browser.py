"""The report in a real browser: it fits, reads in dark and in print, and the PDF has the pages it states."""

import re
import shutil
from pathlib import Path

import polars as pl
import pypdf
import pytest

from pipeline.printing import print_pdf
from plugins.api import Scope
from plugins.renderers.report import SampleReports
from plugins.renderers.verbs.slugs import slug
from tests.pages.test_hostile import HOSTILE, _poisoned
from tests.reports.conftest import OTHER, SAMPLE, Amended

sync_api = pytest.importorskip("playwright.sync_api", reason="the playwright package is not installed")
_CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
pytestmark = pytest.mark.skipif(_CHROMIUM is None, reason="no Chromium on this machine")
REPORTS = (f"{SAMPLE}-1", f"{SAMPLE}-2", f"{OTHER}-1")


@pytest.mark.parametrize("name", REPORTS)
def test_the_pdf_has_the_pages_it_states(amended: Amended, tmp_path: Path, name: str) -> None:
    assert _CHROMIUM is not None
    page = Path(shutil.copy(amended.at.reports / f"{name}.html", tmp_path))
    printed = pypdf.PdfReader(print_pdf(_CHROMIUM, page))
    stated = [re.search(r"page\s+(\d+)\s+of\s+(\d+)", each.extract_text()) for each in printed.pages]
    assert [tuple(map(int, found.groups())) for found in stated if found] == [
        (number, len(printed.pages)) for number in range(1, len(printed.pages) + 1)
    ]
    assert all(f"Test report {name}" in re.sub(r"\s+", " ", each.extract_text()) for each in printed.pages)
    assert "Signature" in printed.pages[-1].extract_text() + printed.pages[-2].extract_text()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1440])
def test_a_report_fits_and_is_quiet(browser: "sync_api.Browser", amended: Amended, width: int, scheme: str) -> None:
    context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
    tab = context.new_page()
    messages: list[str] = []
    tab.on("console", lambda message: messages.append(message.text))
    for name in REPORTS:
        tab.goto((amended.at.reports / f"{name}.html").as_uri())
        assert tab.evaluate("document.documentElement.scrollWidth") <= width
    assert not messages
    context.close()


_CONTRAST = """() => {
  const lum = c => { const [r, g, b] = c.match(/[0-9.]+/g).slice(0, 3).map(v => { v /= 255;
      return v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; });
      return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
  const paper = lum(getComputedStyle(document.body).backgroundColor);
  return Math.min(...[...document.querySelectorAll("h1,h2,td,th,dt,dd,p,li,.mark")].map(each => {
    const ink = lum(getComputedStyle(each).color);
    return (Math.max(ink, paper) + 0.05) / (Math.min(ink, paper) + 0.05); }));
}"""


@pytest.mark.parametrize(("scheme", "media"), [("light", "screen"), ("dark", "screen"), ("dark", "print")])
def test_a_report_is_readable(browser: "sync_api.Browser", amended: Amended, scheme: str, media: str) -> None:
    # WCAG 2.2, success criterion 1.4.3: a contrast of at least 4.5 to 1, by its formula of relative luminance.
    tab = browser.new_page()
    tab.emulate_media(media=media, color_scheme=scheme)
    tab.goto((amended.at.reports / f"{SAMPLE}-2.html").as_uri())
    assert tab.evaluate(_CONTRAST) >= 4.5
    if media == "print":
        assert tab.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    tab.close()


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_labels_stay_text_and_fit(browser: "sync_api.Browser", tmp_path: Path, name: str) -> None:
    tables = _poisoned(HOSTILE[name])
    sample = tables["samples"].select("sample_id").head(1)
    tables["reports"] = sample.with_columns(
        report_no=pl.concat_str("sample_id", pl.lit("-1")), reason=pl.lit(HOSTILE[name]), replaces=pl.lit(HOSTILE[name])
    )
    (made,) = list(SampleReports().render(tables, Scope()))
    assert made.path == f"{slug(sample.item() + '-1')}.html"
    (tmp_path / "r.html").write_bytes(made.content)
    tab = browser.new_page(viewport={"width": 390, "height": 900})
    messages: list[str] = []
    tab.on("console", lambda message: messages.append(message.text))
    tab.on("dialog", lambda dialog: (messages.append("dialog"), dialog.dismiss()))
    tab.goto((tmp_path / "r.html").as_uri())
    assert tab.evaluate("document.documentElement.scrollWidth") <= 390
    assert tab.locator("#signatures").count() == 1
    assert tab.locator("script, img").count() == 0
    assert not messages
    tab.close()
