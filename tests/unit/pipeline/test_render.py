"""Pages are replaced only where their bytes differ, and never outside their folder."""

from pathlib import Path

import pytest

from pipeline import render, settings
from pipeline.reports import Asked, hand_out
from pipeline.workspace import Workspace
from plugins.api import Artefact
from tests import packages
from tests.support import drop, exports, run


def page(path: str, content: bytes = b"<p>") -> Artefact:
    return Artefact(path, content, "text/html")


def test_a_page_is_written_once(tmp_path: Path) -> None:
    assert render.write(tmp_path, page("sample/a.html"))
    written = (tmp_path / "sample" / "a.html").stat().st_mtime_ns
    assert not render.write(tmp_path, page("sample/a.html"))
    assert (tmp_path / "sample" / "a.html").stat().st_mtime_ns == written
    assert render.write(tmp_path, page("sample/a.html", b"<p>other"))
    assert [path.name for path in (tmp_path / "sample").iterdir()] == ["a.html"]


@pytest.mark.parametrize("path", ["../out.html", "/etc/out.html", "sample/../../out.html"])
def test_a_page_outside_its_folder_is_refused(tmp_path: Path, path: str) -> None:
    folder = tmp_path / "pages"
    folder.mkdir()
    with pytest.raises(render.UnsafePathError):
        render.write(folder, page(path))
    assert not (tmp_path / "out.html").exists()


STRANGER = """
from mixledger.plugin import Artefact, hookimpl

class {name}:
    name = "{name}"

    def render(self, tables, scope):
        {body}

@hookimpl
def mixledger_renderers():
    return [{name}()]
"""


@pytest.fixture
def strangers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Give packages whose renderers do well, crash, and reach for a page that is not theirs."""
    bodies = {
        "tidy": "yield Artefact('tidy/a.html', str(sorted(tables)).encode(), 'text/html')",
        "crash": "import os; os._exit(3)",
        "greedy": "return [Artefact('summary.html', b'mine', 'text/html')]",
    }
    for name, body in bodies.items():
        source = STRANGER.format(name=name, body=body)
        packages.lay_out(tmp_path / "site", name, source, group="mixledger.renderers")
    monkeypatch.syspath_prepend(tmp_path / "site")
    return list(bodies)


def test_a_package_s_renderer_that_fails_costs_only_its_own_pages(lab: Workspace, strangers: list[str]) -> None:
    drop(lab, exports("mix_card/EBBER-B12*"))
    run(lab)
    trusting = settings.Settings(plugins=settings.PluginTrust(trusted=tuple(strangers)))
    done = render.render(lab, trusting, 0)
    assert done.problems == (
        "renderer 'crash' failed, its pages were left as they are: its process ended without an answer (exit code 3)",
        "renderer 'greedy' failed, its pages were left as they are: it named the file 'summary.html', which does not "
        "lie below 'greedy/'",
    )
    assert b"'densification', " in (lab.pages / "tidy" / "a.html").read_bytes()
    assert b"mine" not in lab.summary_page.read_bytes()


def test_a_trusted_package_may_make_a_shipped_page_and_a_format(
    lab: Workspace, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bodies = {
        "ours": "return [Artefact('quality.html', b'ours', 'text/html'), Artefact('ours/a.html', b'a', 'text/html')]",
        "typed": "return [Artefact('typed/a.txt', str(len(tables['chain'])).encode(), 'text/plain')]",
    }
    for name, body in bodies.items():
        source = STRANGER.format(name=name, body=body)
        if name == "typed":
            source = source.replace('    name = "typed"\n', '    name = "typed"\n    on_request = "txt"\n')
        packages.lay_out(tmp_path / "site", name, source, group="mixledger.renderers")
    monkeypatch.syspath_prepend(tmp_path / "site")
    drop(lab, exports("mix_card/EBBER-B12*"))
    run(lab)
    trusted = settings.PluginTrust(trusted=tuple(bodies))
    wanted = {"quality": "ours", "due": "nobody", "nothing": "ours"}
    done = render.render(lab, settings.Settings(plugins=trusted, pages=settings.Pages(replaced=wanted)), 0)
    assert (lab.pages / "quality.html").read_bytes() == b"ours"
    assert (lab.pages / "ours" / "a.html").read_bytes() == b"a"
    assert not (lab.pages / "typed").exists()
    assert b"ours" not in (lab.pages / "due.html").read_bytes()
    assert done.problems == (
        "[pages] replaced: no trusted package has a renderer 'nobody'; 'due' is the shipped page",
        "[pages] replaced: there is no shipped page 'nothing', only due, mix, project, quality, sample, summary",
    )
    written, _ = hand_out(lab, settings.Settings(plugins=trusted), Asked(), "txt", tmp_path / "out", None)
    assert [path.read_text() for path in written] == ["0"]


@pytest.mark.parametrize("path", ["summary.html", "quality.txt", "../quality.html", "quality/../summary.html"])
def test_a_package_that_makes_a_page_makes_that_one_only(path: str) -> None:
    with pytest.raises(render.UnsafePathError):
        render._own(page(path), "ours", ["quality"])
