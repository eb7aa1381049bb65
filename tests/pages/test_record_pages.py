"""The validation record and the catalogue of methods in a real browser, on a phone and on a desk."""

import shutil
from pathlib import Path

import pytest

from pipeline import methods
from pipeline.methods_page import page as methods_page
from pipeline.validation.page import page as record_page
from pipeline.validation.record import validate

sync_api = pytest.importorskip("playwright.sync_api", reason="the playwright package is not installed")
_CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
pytestmark = pytest.mark.skipif(_CHROMIUM is None, reason="no Chromium on this machine")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("record")
    (made / "validation.html").write_bytes(record_page(validate()))
    (made / "methods.html").write_bytes(methods_page(methods.catalogue()))
    return made


def test_pages_fit_and_fetch_nothing(folder: Path) -> None:
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=_CHROMIUM, args=["--no-sandbox"])
        for width in (390, 1440):
            tab = browser.new_page(viewport={"width": width, "height": 900})
            requests, messages = [], []
            tab.on("request", lambda request, kept=requests: kept.append(request.url))
            tab.on("console", lambda message, kept=messages: kept.append(message.text))
            for path in sorted(folder.iterdir()):
                tab.goto(path.as_uri())
                assert tab.evaluate("document.documentElement.scrollWidth") <= width, path.name
            assert not messages
            assert [url for url in requests if not url.startswith(("file:", "data:"))] == []
        browser.close()
