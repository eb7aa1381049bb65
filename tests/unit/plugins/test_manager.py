"""What is loaded, what is not and why; nothing untrusted ever runs."""

import subprocess
import sys
from collections.abc import Iterable, Mapping
from importlib.metadata import EntryPoint
from pathlib import Path

import pytest

from plugins import manager, sources
from plugins.api import Artefact, Export, Importer, Reading, Renderer, Scope, hookimpl
from plugins.hookspecs import mixledger_importers, mixledger_renderers
from tests.unit.plugins.test_layouts import GOOD

ROOT = Path(manager.__file__).parents[1]


def local(folder: Path, name: str, text: str) -> None:
    (folder / name).mkdir(parents=True)
    (folder / name / "layout.toml").write_text(text, "utf-8")


def test_all_shipped_importers_are_loaded() -> None:
    plugins = manager.load()
    folders = sorted(
        path.name for path in (ROOT / "plugins" / "importers").iterdir() if (path / "layout.toml").exists()
    )
    assert [one.name for one in plugins.importers] == folders
    assert len(folders) == 11
    assert plugins.problems == ()
    assert all(isinstance(one, Importer) for one in plugins.importers)


def test_loading_imports_nothing_heavy() -> None:
    code = (
        "import sys; from plugins import manager; manager.load(); manager.fingerprint();"
        "heavy = {'polars', 'pandera', 'duckdb', 'great_tables', 'fastexcel', 'pint'} & set(sys.modules);"
        "sys.exit(repr(heavy) if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_a_local_layout_is_loaded(tmp_path: Path) -> None:
    local(tmp_path, "scale", GOOD)
    plugins = manager.load(tmp_path)
    scale = plugins.importer("scale")
    assert scale is not None and scale.gives == ("weighing",)
    assert plugins.problems == ()


@pytest.mark.parametrize(
    ("folder", "text", "problem"),
    [
        (
            "scale",
            GOOD.replace("heading", "hedding"),
            "the workspace's layout was not loaded: scale/layout.toml, line 8:",
        ),
        ("balance", GOOD, "the workspace's balance/layout.toml was not loaded: its name is 'scale'"),
        ("mix_card", GOOD.replace('"scale"', '"mix_card"'), "a second importer called 'mix_card' was not loaded"),
    ],
)
def test_a_local_layout_that_cannot_be_used_is_reported(folder: str, text: str, problem: str, tmp_path: Path) -> None:
    local(tmp_path, folder, text)
    plugins = manager.load(tmp_path)
    assert len(plugins.importers) == 11
    assert len(plugins.problems) == 1 and plugins.problems[0].startswith(problem)


def test_local_code_does_not_run(tmp_path: Path) -> None:
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "importer.py").write_text("raise SystemExit('it ran')", "utf-8")
    plugins = manager.load(tmp_path)
    assert plugins.problems == ("the workspace's own/importer.py was not loaded: code runs only from trusted packages",)


class _Strange:
    name = "strange"
    version = "1"
    gives = ("weighing",)

    def claims(self, export: Export) -> str | None:
        return "it is strange"

    def read(self, exports: object) -> Reading:
        return Reading({})


class _Failing(_Strange):
    name = "failing"

    def claims(self, export: Export) -> str | None:
        raise RuntimeError("no idea")


class _Plugin:
    @hookimpl
    def mixledger_importers(self) -> Iterable[object]:
        return [_Strange(), _Failing(), "not an importer"]


class _Broken:
    @hookimpl
    def mixledger_importers(self) -> Iterable[object]:
        raise RuntimeError("broken inside")


def announce(monkeypatch: pytest.MonkeyPatch, ran: list[str], made: Mapping[str, object]) -> None:
    """Let distributions announce one plugin each; `ran` notes which of them were imported."""

    class Point(EntryPoint):
        def load(self) -> object:
            ran.append(self.name)
            found = made[self.name]
            if isinstance(found, Exception):
                raise found
            return found

    found = [sources.Installed(Point(name, "m", "mixledger.importers"), name, "1.0") for name in made]
    monkeypatch.setattr(sources, "installed", lambda: iter(found))


def test_only_trusted_distributions_run(monkeypatch: pytest.MonkeyPatch) -> None:
    ran: list[str] = []
    announce(monkeypatch, ran, {"good_one": _Plugin(), "stranger": _Plugin()})
    plugins = manager.load(trusted=["Good-One"])
    assert ran == ["good_one"]
    assert plugins.importer("strange") is not None
    assert plugins.problems == (
        "'stranger' of stranger 1.0 is not trusted and was not loaded; to trust it: mixledger trust stranger",
        "'not an importer' was not loaded: it is no importer",
    )


def test_a_plugin_that_fails_is_reported_and_the_others_stay(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    announce(monkeypatch, [], {"one": _Broken(), "two": ImportError("no module"), "three": _Plugin()})
    plugins = manager.load(trusted=["one", "two", "three"])
    assert len(plugins.importers) == 13
    assert [problem.partition(": ")[2] for problem in plugins.problems[:2]] == [
        "ImportError: no module",
        "RuntimeError: broken inside",
    ]
    (tmp_path / "x").write_bytes(b"x")
    claims = plugins.claimants(Export.from_path(tmp_path / "x"))
    assert [(one.name, reason) for one, reason in claims] == [("strange", "it is strange")]
    assert plugins.problems[-1] == "'failing' failed and was left out: RuntimeError: no idea"


def test_the_fingerprint_follows_what_decides_the_reading(tmp_path: Path) -> None:
    none = manager.fingerprint()
    assert none == manager.fingerprint(tmp_path) == manager.load(tmp_path).fingerprint
    local(tmp_path, "scale", GOOD)
    one = manager.fingerprint(tmp_path)
    (tmp_path / "scale" / "layout.toml").write_text(GOOD + "\n", "utf-8")
    two = manager.fingerprint(tmp_path)
    three = manager.fingerprint(tmp_path, ["polars"])
    assert len({none, one, two, three}) == 4


def test_shipped_renderers_are_found() -> None:
    plugins = manager.load()
    assert all(isinstance(one, Renderer) for one in plugins.renderers)
    assert plugins.problems == ()


def test_the_hooks_and_protocols() -> None:
    class Page:
        name = "page"

        def render(self, tables: Mapping[str, object], scope: Scope) -> Iterable[Artefact]:
            return [Artefact("a.html", b"", "text/html")]

    assert isinstance(Page(), Renderer)
    assert Scope().projects is None and Scope().samples is None
    for hook in (mixledger_importers, mixledger_renderers):
        assert "Returns" in (hook.__doc__ or "")
        with pytest.raises(NotImplementedError):
            hook()
