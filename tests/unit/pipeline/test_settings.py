"""A wrong setting is told with file, key, what was expected and a near match."""

from pathlib import Path

import pytest

from pipeline import settings, workspace


def test_the_template_states_the_defaults(tmp_path: Path) -> None:
    made = workspace.create(tmp_path / "lab")
    assert settings.load(made.root) == settings.Settings()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[intak]\n", "'intak' is not a setting. Did you mean 'intake'?"),
        ("[serve]\ninterval = 3\n", "[serve]: 'interval' is not a setting. Did you mean 'interval_seconds'?"),
        ("[serve]\ninterval_seconds = 'x'\n", "[serve] interval_seconds: expected a value like 300, found 'x'."),
        ("[serve]\ninterval_seconds = -1\n", "[serve] interval_seconds: expected a value like 300, found -1."),
        ("[results]\nwheel_zeroed = 1\n", "[results] wheel_zeroed: expected a value like False, found 1."),
        ("[results]\nwheel_positions = [0]\n", "[results] wheel_positions: expected some of 1 to 11, found [0]."),
        ("[plugins]\ntrusted = 'all'\n", "[plugins] trusted: expected a list such as [], found 'all'."),
        ("[pages]\nunits = 'metric'\n", "[pages] units: expected one of si, us, found 'metric'."),
        ("[pages]\ndecimal_mark = ','\n", "[pages] decimal_mark: expected one of point, comma, found ','."),
        ("[pages]\ndate_format = 3\n", "[pages] date_format: expected one of iso, dmy, mdy, found 3."),
        ("[pages]\nbrowser = 3\n", "[pages] browser: expected a value like '', found 3."),
        ("[pages]\nreplaced = ['x']\n", "[pages] replaced: expected names with names, such as"),
        ("serve = 3\n", "[serve]: expected a table of settings, found 3."),
        ("[serve\n", "not readable as TOML"),
    ],
)
def test_what_is_wrong(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / settings.FILE_NAME).write_text(text)
    with pytest.raises(settings.SettingsError) as caught:
        settings.load(tmp_path)
    assert said in str(caught.value)
    assert settings.FILE_NAME in str(caught.value)


def test_a_folder_with_other_things_is_not_made_a_workspace(tmp_path: Path) -> None:
    (tmp_path / "thesis.doc").write_text("mine")
    with pytest.raises(workspace.WorkspaceError, match="holds other files"):
        workspace.create(tmp_path)
    with pytest.raises(workspace.WorkspaceError, match="mixledger init"):
        workspace.find(tmp_path)
