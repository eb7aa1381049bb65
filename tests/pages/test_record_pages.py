"""The whole validation record and the catalogue of methods in a real browser, on a phone and on a desk."""

from pathlib import Path
from typing import Any

import pytest

from pipeline import methods
from pipeline.methods_page import page as methods_page
from pipeline.validation.page import page as record_page
from pipeline.validation.record import validate
from tests.pages.accessible import faults


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("record")
    (made / "validation.html").write_bytes(record_page(validate()))
    (made / "methods.html").write_bytes(methods_page(methods.catalogue()))
    return made


@pytest.mark.parametrize("width", [390, 1440])
def test_pages_fit_fetch_nothing_and_are_readable(browser: Any, folder: Path, width: int) -> None:
    tab = browser.new_page(viewport={"width": width, "height": 900})
    requests: list[str] = []
    messages: list[str] = []
    tab.on("request", lambda request: requests.append(request.url))
    tab.on("console", lambda message: messages.append(message.text))
    for path in sorted(folder.iterdir()):
        tab.goto(path.as_uri())
        assert tab.evaluate("document.documentElement.scrollWidth") <= width, path.name
        assert faults(tab) == [], path.name
    tab.close()
    assert not messages
    assert [url for url in requests if not url.startswith(("file:", "data:"))] == []
