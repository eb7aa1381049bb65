"""Pages in a real browser: no sideways scrolling, no console message, nothing fetched, in light, dark and print."""

import shutil
from pathlib import Path

import pytest

from tests.pages import invented
from tests.pages.conftest import render
from tests.pages.test_hostile import HOSTILE, _poisoned

sync_api = pytest.importorskip("playwright.sync_api", reason="the playwright package is not installed")
_CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
pytestmark = pytest.mark.skipif(_CHROMIUM is None, reason="no Chromium on this machine")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder with the pages of the invented data, of hostile labels and of no data."""
    root = tmp_path_factory.mktemp("pages")
    cases = {
        "plain": invented.tables(),
        "markup": _poisoned(HOSTILE["markup"]),
        "long": _poisoned(HOSTILE["long"]),
        "none": {},
    }
    for case, tables in cases.items():
        for path, text in render(tables).items():
            target = root / case / path
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text(text, encoding="utf-8")
    return root


def _chosen(folder: Path) -> list[Path]:
    """Return one page of each kind and case."""
    kinds = ("summary.html", "due.html", "quality.html", "project/*.html", "mix/*.html", "sample/*.html")
    return [sorted(case.glob(kind))[0] for case in sorted(folder.iterdir()) for kind in kinds if list(case.glob(kind))]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 800, 1100, 1440])
def test_pages_fit_and_are_quiet(browser: "sync_api.Browser", folder: Path, width: int, scheme: str) -> None:
    context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
    tab = context.new_page()
    messages: list[str] = []
    requests: list[str] = []
    tab.on("console", lambda message: messages.append(message.text))
    tab.on("pageerror", lambda fault: messages.append(str(fault)))
    tab.on("dialog", lambda dialog: (messages.append("dialog"), dialog.dismiss()))
    tab.on("request", lambda request: requests.append(request.url))
    for page in _chosen(folder):
        tab.goto(page.as_uri())
        wide = tab.evaluate("document.documentElement.scrollWidth")
        assert wide <= width, f"{page.relative_to(folder)} is {wide} px wide at {width} px"
    assert not messages
    assert [url for url in requests if not url.startswith(("file:", "data:"))] == []
    assert len(requests) >= len(_chosen(folder))
    context.close()


def test_dark_and_light_differ_and_print_is_light(browser: "sync_api.Browser", folder: Path) -> None:
    paper = "getComputedStyle(document.body).backgroundColor"
    found = {}
    for scheme, media in (("light", "screen"), ("dark", "screen"), ("dark", "print")):
        context = browser.new_context(color_scheme=scheme)
        tab = context.new_page()
        tab.emulate_media(media=media, color_scheme=scheme)
        tab.goto((folder / "plain" / "summary.html").as_uri())
        found[scheme, media] = tab.evaluate(paper)
        context.close()
    assert found["dark", "print"] == "rgb(255, 255, 255)"
    assert found["dark", "screen"] != found["light", "screen"]


def test_the_summary_reads_without_its_table_head_on_a_phone(browser: "sync_api.Browser", folder: Path) -> None:
    tab = browser.new_page(viewport={"width": 390, "height": 900})
    tab.goto((folder / "plain" / "summary.html").as_uri())
    assert not tab.locator("thead").first.is_visible()
    assert tab.locator(".lbl", has_text="Air voids, %").first.is_visible()
    tab.set_viewport_size({"width": 1440, "height": 900})
    assert tab.locator("thead").first.is_visible()
    assert not tab.locator(".lbl").first.is_visible()
    tab.close()
