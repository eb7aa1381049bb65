"""Every kind of page of the demo in a real browser: fits, quiet, fetches nothing, leads somewhere, readable by all."""

import shutil
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import unquote, urlsplit

import pytest

from pipeline import dictionary, methods, workspace
from pipeline.methods_page import page as methods_page
from pipeline.validation import entries
from pipeline.validation.page import page as record_page
from pipeline.validation.record import validate
from pipeline.workspace import Workspace
from tests.pages.accessible import faults, keyboard_faults
from tests.pages.reading import read
from tests.reports.conftest import SAMPLE, issued_now


class View(NamedTuple):
    """How a page is looked at; a sheet of A4 between margins of 10 mm is 718 px wide at 96 px to the inch."""

    width: int
    media: str
    scheme: str


VIEWS = [
    View(1440, "screen", "light"),
    View(1440, "screen", "dark"),
    View(390, "screen", "light"),
    View(390, "screen", "dark"),
    View(718, "print", "light"),
]

#: Kind of page -> where it stands in the site; the fullest of each kind is looked at.
KINDS = {
    "summary": "pages/summary.html",
    "work list": "pages/due.html",
    "quality": "pages/quality.html",
    "project": "pages/project/*.html",
    "mix": "pages/mix/*.html",
    "sample": "pages/sample/*.html",
    "report": "reports/*.html",
    "dictionary": "dictionary.html",
    "methods": "methods.html",
    "validation record": "validation.html",
}


@pytest.fixture(scope="module")
def site(demo: Workspace, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a copy of the demo with an issued report and the pages that say how it is all meant."""
    root = tmp_path_factory.mktemp("site") / "lab"
    shutil.copytree(demo.root, root)
    issued_now(workspace.find(root), SAMPLE)
    (root / "dictionary.html").write_bytes(dictionary.page(dictionary.dictionary()))
    (root / "methods.html").write_bytes(methods_page(methods.catalogue()))
    # Every eighth value: all kinds of rows in a tenth of the time; the whole record is looked at in test_record_pages.
    (root / "validation.html").write_bytes(record_page(validate(entries.load()[::8])))
    return root


def _fullest(site: Path, kind: str) -> Path:
    return max(sorted(site.glob(KINDS[kind])), key=lambda path: path.stat().st_size)


@pytest.mark.parametrize("view", VIEWS, ids=lambda view: f"{view.width}-{view.media}-{view.scheme}")
def test_pages_fit_are_quiet_and_readable(browser: Any, site: Path, view: View) -> None:
    tab = browser.new_page(viewport={"width": view.width, "height": 900})
    tab.emulate_media(media=view.media, color_scheme=view.scheme)
    messages: list[str] = []
    requests: list[str] = []
    tab.on("console", lambda message: messages.append(message.text))
    tab.on("pageerror", lambda fault: messages.append(str(fault)))
    tab.on("request", lambda request: requests.append(request.url))
    found: dict[str, Any] = {}
    for kind in KINDS:
        tab.goto(_fullest(site, kind).as_uri())
        wide = [tab.evaluate("document.documentElement.scrollWidth")]
        broken = faults(tab)
        wide.append(tab.evaluate("document.documentElement.scrollWidth"))  # once more with all that was folded
        if max(wide) > view.width or broken:
            found[kind] = (wide, broken[:8])
    tab.close()
    assert found == {}
    assert messages == []
    assert len(requests) >= len(KINDS)
    assert [url for url in requests if not url.startswith(("file:", "data:"))] == []


@pytest.mark.parametrize(("width", "scheme"), [(1440, "light"), (390, "dark")])
def test_the_keyboard_reaches_everything_and_shows_where_it_is(
    browser: Any, site: Path, width: int, scheme: str
) -> None:
    tab = browser.new_page(viewport={"width": width, "height": 900}, color_scheme=scheme)
    found = {}
    for kind in KINDS:
        tab.goto(_fullest(site, kind).as_uri())
        if broken := keyboard_faults(tab):
            found[kind] = broken[:8]
    tab.close()
    assert found == {}


def _astray(pages: dict[Path, Any], at: Path) -> list[str]:
    """Return the links of a page that lead to no file, or to no anchor of it."""
    astray = []
    for link in pages[at].links:
        parts = urlsplit(link)
        if parts.scheme == "data":
            continue
        target = (at.parent / unquote(parts.path)).resolve() if parts.path else at
        anchored = not parts.fragment or (target in pages and unquote(parts.fragment) in pages[target].ids)
        if parts.scheme or parts.netloc or not target.is_file() or not anchored:
            astray.append(link)
    return astray


def test_every_link_of_every_page_leads_somewhere(site: Path) -> None:
    pages = {path.resolve(): read(path.read_text(encoding="utf-8")) for path in site.rglob("*.html")}
    assert sum(len(page.links) for page in pages.values()) > 1000
    assert {str(at): found for at in pages if (found := _astray(pages, at))} == {}


@pytest.mark.parametrize("link", ["none.html", "page.html#none", "#none", "https://example.org/", "//example.org/"])
def test_a_link_that_leads_nowhere_is_found(tmp_path: Path, link: str) -> None:
    at = (tmp_path / "page.html").resolve()
    at.write_text(f'<p id="here"><a href="{link}">x</a><a href="#here">y</a><a href="page.html#here">z</a></p>')
    assert _astray({at: read(at.read_text())}, at) == [link]
