"""Trust is given and taken by one line of the settings, and nothing runs to find out what it would be given to."""

import json
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from pipeline import intake, settings, state, trusting, update
from pipeline.cli.group import group
from pipeline.workspace import Workspace
from tests import packages
from tests.support import ROOT, drop, exports, run


def call(lab: Workspace, *given: str) -> Result:
    return CliRunner().invoke(group, ["-w", str(lab.root), *given], catch_exceptions=False)


def trusted(lab: Workspace) -> list[str]:
    return list(settings.load(lab.root).plugins.trusted)


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give a folder with a distribution that would leave a mark if it ran."""
    source = f"open({str(tmp_path / 'it ran')!r}, 'w').close()\n" + packages.importer("our_scale")
    packages.lay_out(tmp_path / "site", "our-scale", source, version="1.2")
    monkeypatch.syspath_prepend(tmp_path / "site")
    return tmp_path


def test_trust_is_shown_written_pinned_and_withdrawn(lab: Workspace, site: Path) -> None:
    path = lab.root / settings.FILE_NAME
    before = path.read_text("utf-8")
    shown = call(lab, "trust", "our_scale", "--dry-run").output
    assert "our-scale 1.2\noffers mixledger.importers: our_scale = our_scale\n" in shown
    assert path.read_text("utf-8") == before
    call(lab, "trust", "OUR.scale")
    assert trusted(lab) == ["our-scale"]
    assert call(lab, "trust", "our-scale").output.splitlines()[-1].startswith('already trusted: "our-scale"')
    call(lab, "trust", "our-scale", "--pin")
    assert trusted(lab) == ["our-scale==1.2"]
    assert not (site / "it ran").exists()
    assert "our-scale is no longer trusted" in call(lab, "trust", "our-scale", "--withdraw").output
    assert path.read_text("utf-8") == before
    assert call(lab, "trust", "our-scale", "--withdraw").output == "our-scale was not trusted\n"


def test_local_code_is_trusted_with_its_hash(lab: Workspace) -> None:
    path = lab.importers / "own" / "importer.py"
    path.parent.mkdir()
    path.write_text(packages.importer("own"), "utf-8")
    for asked in ("importers/own", str(path), str(path.parent)):
        call(lab, "trust", asked)
        (entry,) = trusted(lab)
        assert entry.startswith("importers/own@sha256:") and len(entry) == 21 + 64
    path.write_text(packages.importer("own") + "#", "utf-8")
    listed = json.loads(call(lab, "plugins", "--json").output)
    assert [each["trust"] for each in listed["plugins"] if each["name"] == "own"] == ["changed"]
    path.unlink()
    call(lab, "trust", "importers/own", "--withdraw")
    assert trusted(lab) == []


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("no-such-package", "'no-such-package' is no installed package with plugins"),
        ("importers/none", "'importers/none' is no code of this workspace: expected a folder below"),
        ("../../etc/x.py", "is no code of this workspace"),
    ],
)
def test_what_cannot_be_trusted(asked: str, said: str, lab: Workspace) -> None:
    with pytest.raises(trusting.TrustError, match=said):
        call(lab, "trust", asked)
    assert trusted(lab) == []


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[intake]\nsettle_seconds = 1\n",
        "[plugins]\nprefer = ['x']\n\n[serve]\ninterval_seconds = 3\n",
        "[plugins]\ntrusted = [\n  'a', # one\n  'b',\n]\nprefer = []\n",
        "[plugins]  # who may run\ntrusted = ['a', 'b'] # mine\n",
        "# trusted = ['z']\n[plugins]\n# trusted = ['y']\ntrusted = []",
    ],
)
def test_only_the_one_line_changes(text: str, lab: Workspace) -> None:
    path = lab.root / settings.FILE_NAME
    path.write_text(text, "utf-8")
    old = tomllib.loads(text)
    about = trusting.Subject("c", "c==1", ())
    assert trusting.write(lab, about, keep=True)
    new = tomllib.loads(path.read_text("utf-8"))
    before = old.get("plugins", {}).get("trusted", [])
    assert new == {**old, "plugins": {**old.get("plugins", {}), "trusted": [*before, "c==1"]}}
    kept = [line for line in text.splitlines() if "'a'" not in line and "'b'" not in line and "trusted" not in line]
    assert [line for line in kept if line.strip(" ]")] == [
        line for line in kept if line in path.read_text("utf-8").splitlines() and line.strip(" ]")
    ]
    assert trusting.write(lab, about, keep=False)
    assert tomllib.loads(path.read_text("utf-8")).get("plugins", {}).get("trusted", []) == before


def test_settings_the_program_cannot_change_are_left(lab: Workspace) -> None:
    path = lab.root / settings.FILE_NAME
    path.write_text("plugins = { trusted = ['a'] }\n", "utf-8")
    with pytest.raises(trusting.TrustError, match=r'write this under \[plugins\] yourself: trusted = \["a", "b"\]'):
        trusting.write(lab, trusting.Subject("b", "b", ()), keep=True)
    assert path.read_text("utf-8") == "plugins = { trusted = ['a'] }\n"


def test_plugins_lists_what_each_recognised_last_and_runs_nothing_untrusted(lab: Workspace, site: Path) -> None:
    drop(lab, exports("mix_card/EBBER-B12*"))
    run(lab)
    listed = {each["name"]: each for each in json.loads(call(lab, "plugins", "--json").output)["plugins"]}
    assert listed["mix_card"]["last_recognised"][0].startswith("mix_card/EBBER-B12")
    assert listed["mix_card"]["records"] == ["mix_design", "mix_gradation", "stockpile"]
    assert (listed["our_scale"]["trust"], listed["our_scale"]["origin"]) == ("not trusted", "installed: our-scale")
    assert listed["summary"]["kind"] == "renderer"
    done = call(lab, "plugins")
    assert done.exit_code == 1
    assert "to trust it: mixledger trust our-scale" in done.output
    assert not (site / "it ran").exists()


def test_the_preference_of_the_settings_decides_and_takes_up_what_was_refused(lab: Workspace) -> None:
    folder = lab.importers / "own_card"
    folder.mkdir()
    layout = (ROOT / "plugins" / "importers" / "mix_card" / "layout.toml").read_text("utf-8")
    (folder / "layout.toml").write_text(layout.replace('"mix_card"', '"own_card"'), "utf-8")
    drop(lab, exports("mix_card/EBBER-B12*")[:1])
    arrivals, _ = intake.take_in(lab, [])
    seen = {}
    for prefer in ("", "own_card", "mix_card"):
        chosen = settings.Settings(plugins=settings.PluginTrust(prefer=(prefer,) if prefer else ()))
        plan = update.plan(lab, chosen, arrivals, state.State())
        assert [batch.importer.name for batch in plan.batches] == ([prefer] if prefer else [])
        assert plan.refused.refusals["code"].to_list() == ([] if prefer else ["two_importers"])
        seen[prefer] = state.readers(lab, chosen)
    (trusting_one,) = [settings.Settings(plugins=settings.PluginTrust(trusted=("polars",)))]
    assert len({*seen.values(), state.readers(lab, trusting_one)}) == 4
