"""What is loaded, what is not and why; nothing untrusted ever runs."""

import subprocess
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path

import pytest

from plugins import manager, sources
from plugins.api import Artefact, Importer, Renderer, Scope
from plugins.hookspecs import mixledger_importers, mixledger_renderers
from tests import packages
from tests.unit.plugins.test_layouts import GOOD

ROOT = Path(manager.__file__).parents[1]
SHIPPED = len(list((ROOT / "plugins" / "importers").glob("*/layout.toml")))


def local(folder: Path, name: str, text: str) -> None:
    (folder / name).mkdir(parents=True)
    (folder / name / "layout.toml").write_text(text, "utf-8")


def test_all_shipped_importers_are_loaded() -> None:
    plugins = manager.load()
    folders = sorted(
        path.name for path in (ROOT / "plugins" / "importers").iterdir() if (path / "layout.toml").exists()
    )
    assert [one.name for one in plugins.importers] == folders
    assert len(folders) >= 14
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
    assert len(plugins.importers) == SHIPPED
    assert len(plugins.problems) == 1 and plugins.problems[0].startswith(problem)


def own_code(folder: Path, source: str) -> str:
    """Write code into the folder of a workspace and return the entry that trusts it."""
    path = folder / "importers" / "own" / "importer.py"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(source, "utf-8")
    (found,) = sources.local_code(folder / "importers")
    return found.trusted_as


def test_local_code_runs_only_while_its_bytes_are_the_trusted_ones(tmp_path: Path) -> None:
    marker = tmp_path / "it ran"
    source = f"open({str(marker)!r}, 'w').close()\n" + packages.importer("own")
    entry = own_code(tmp_path, source)
    place = "importers/own"
    changed = "was not loaded: it has changed since it was trusted; read the change, then: mixledger trust "
    for trusted, said in (
        ([], "is not trusted and was not loaded; read it, then: mixledger trust " + place),
        ([place], changed + place),
        ([f"{place}@sha256:{'0' * 64}"], changed + place),
    ):
        plugins = manager.load(tmp_path / "importers", trusted)
        assert plugins.importer("own") is None
        assert plugins.problems[0].startswith("the workspace's own/importer.py " + said), plugins.problems
        assert not marker.exists()
    plugins = manager.load(tmp_path / "importers", [entry])
    assert plugins.problems == () and marker.exists()
    own = plugins.importer("own")
    assert own is not None and own.version == f"1+{entry.partition(':')[2][:12]}"
    own_code(tmp_path, source + "#")
    assert manager.load(tmp_path / "importers", [entry]).importer("own") is None


def test_only_trusted_distributions_run(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for name in ("good-one", "stranger"):
        source = f"open({str(tmp_path / name)!r}, 'w').close()\n" + packages.importer(name)
        packages.lay_out(tmp_path / "site", name, source)
    monkeypatch.syspath_prepend(tmp_path / "site")
    plugins = manager.load(trusted=["Good.One"])
    assert (tmp_path / "good-one").exists() and not (tmp_path / "stranger").exists()
    good = plugins.importer("good-one")
    assert good is not None and (good.version, good.gives) == ("1 (good-one 1.0)", ("weighing",))
    assert plugins.importer("stranger") is None
    assert plugins.problems == (
        "'stranger' of stranger 1.0 is not trusted and was not loaded; to trust it: mixledger trust stranger",
    )
    assert [(one.name, one.origin, one.trust) for one in plugins.known[SHIPPED:]] == [
        ("good-one", "installed", "trusted"),
        ("stranger", "installed", "not trusted"),
    ]


def test_a_pinned_distribution_runs_in_that_version_only(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    packages.lay_out(tmp_path, "pinned", packages.importer("pinned"), version="2.0")
    monkeypatch.syspath_prepend(tmp_path)
    assert manager.load(trusted=["pinned==2.0"]).importer("pinned") is not None
    plugins = manager.load(trusted=["pinned==1.0"])
    assert plugins.importer("pinned") is None
    assert plugins.problems == (
        "'pinned' of pinned 2.0 was not loaded: version 1.0 is trusted; to trust the new one: "
        "mixledger trust --pin pinned",
    )


@pytest.mark.parametrize(
    ("source", "said"),
    [
        ("import no_such_module", "ModuleNotFoundError: No module named 'no_such_module' (failing.py, line 1)"),
        ("raise SystemExit(3)", "SystemExit: 3 (failing.py, line 1)"),
        ("import os; os._exit(3)", "its process ended without an answer (exit code 3)"),
        ("import os; os.kill(os.getpid(), 11)", "its process crashed (signal 11)"),
        ("while True: pass", "it took longer than 1 s and was stopped"),
        (
            "x = 1",
            "LookupError: it implements no hook 'mixledger_importers'; mark a function of that name with @hookimpl",
        ),
        (
            packages.importer().replace("mixledger_importers", "mixledger_importer"),
            "LookupError: there is no hook 'mixledger_importer'; did you mean 'mixledger_importers'?",
        ),
        (
            packages.importer().replace("[Scale()]", "1 / 0"),
            "ZeroDivisionError: division by zero (failing.py, line 31)",
        ),
    ],
)
def test_a_plugin_that_fails_is_reported_and_the_others_stay(
    source: str, said: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    packages.lay_out(tmp_path, "failing", source)
    monkeypatch.syspath_prepend(tmp_path)
    plugins = manager.load(trusted=["failing"], time_limit=1)
    assert len(plugins.importers) == SHIPPED
    assert plugins.problems == (f"'failing: failing' failed and was left out: {said}",)


def test_what_is_no_importer_is_left_out(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    source = packages.importer().replace("[Scale()]", "['a word', Scale(), Scale()]")
    packages.lay_out(tmp_path, "odd", source)
    monkeypatch.syspath_prepend(tmp_path)
    plugins = manager.load(trusted=["odd"])
    assert plugins.problems == (
        "'odd: odd': 'a word' is no importer; it was left out",
        "a second importer called 'scale' was not loaded: choose another name",
    )
    assert len(plugins.importers) == SHIPPED + 1


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
