"""Pages are replaced only where their bytes differ, and never outside their folder."""

from pathlib import Path

import pytest

from pipeline import render
from plugins.api import Artefact


def page(path: str, content: bytes = b"<p>") -> Artefact:
    return Artefact(path, content, "text/html")


def test_a_page_is_written_once(tmp_path: Path) -> None:
    assert render._write(tmp_path, page("sample/a.html"))
    written = (tmp_path / "sample" / "a.html").stat().st_mtime_ns
    assert not render._write(tmp_path, page("sample/a.html"))
    assert (tmp_path / "sample" / "a.html").stat().st_mtime_ns == written
    assert render._write(tmp_path, page("sample/a.html", b"<p>other"))
    assert [path.name for path in (tmp_path / "sample").iterdir()] == ["a.html"]


@pytest.mark.parametrize("path", ["../out.html", "/etc/out.html", "sample/../../out.html"])
def test_a_page_outside_its_folder_is_refused(tmp_path: Path, path: str) -> None:
    folder = tmp_path / "pages"
    folder.mkdir()
    with pytest.raises(render.UnsafePathError):
        render._write(folder, page(path))
    assert not (tmp_path / "out.html").exists()
