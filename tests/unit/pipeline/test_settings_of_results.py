"""Settings of rounding and uncertainty: what is taken, and what is refused with place and expectation."""

import pytest
from click.testing import CliRunner

from pipeline.cli.group import group
from pipeline.settings import Settings, SettingsError, Uncertainty, load


def read(tmp_path, text: str) -> Settings:
    (tmp_path / "mixledger.toml").write_text(text)
    return load(tmp_path)


def test_rounding_and_uncertainty_are_read(tmp_path) -> None:
    found = read(
        tmp_path,
        '[results]\nrounding = "half_up"\n[uncertainty]\nweighing_correlation = 0.5\n'
        'specimens = "independent"\ncontributions = { surface_dry = 0 }',
    )
    assert found.results.rounding == "half_up"
    assert found.uncertainty == Uncertainty(0.5, "independent", {"surface_dry": 0.0})


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('[results]\nrounding = "up"', "expected one of half_even, half_up, found 'up'"),
        ("[uncertainty]\nweighing_correlation = 1.5", "expected 0 to 1, found 1.5"),
        ("[uncertainty]\nweighing_correlation = -1", "found -1"),
        ("[uncertainty]\ncontributions = [1]", "expected names with numbers"),
        ("[results.limits]\nt312_pressure_kpa = 'high'", "limits t312_pressure_kpa: expected a number, found 'high'"),
        ("[results]\ncontrol_point_pct = { small = 39 }", "expected sizes in mm in quotes, such as"),
        ("[results]\ncontrol_point_pct = { '12.5' = -1 }", "12.5: expected a number from 0 up, found -1"),
        ("[uncertainty]\ncontributions = { surface_dry = -1 }", "surface_dry: expected a number from 0 up, found -1"),
    ],
)
def test_what_is_wrong_is_told(tmp_path, text: str, told: str) -> None:
    with pytest.raises(SettingsError) as refused:
        read(tmp_path, text)
    assert told in str(refused.value)
    assert "mixledger.toml" in str(refused.value)


def by_hand(folder, *given: str) -> str:
    done = CliRunner().invoke(group, ["-w", str(folder), "compute", *given], catch_exceptions=False)
    assert done.exit_code == 0, done.stderr
    return done.stdout


def test_by_hand_the_checks_hold_the_limits_of_the_workspace(tmp_path) -> None:
    # AASHTO T 166:16(2020), 6.2: water at 25 +- 1 degC.
    warm = ("gmb", "mass_dry=1195.2", "mass_submerged=695.2", "mass_ssd=1196.9", "water_temperature=27")
    assert "25 ± 1 °C" in by_hand(tmp_path, *warm)
    (tmp_path / "mixledger.toml").write_text("[results.limits]\nt166_bath_tolerance_c = 3\n")
    assert "doubtful" not in by_hand(tmp_path, *warm)
    assert "25 ± 3 °C" in by_hand(tmp_path, *warm[:-1], "water_temperature=29")


def test_by_hand_a_misspelt_limit_is_refused(tmp_path) -> None:
    (tmp_path / "mixledger.toml").write_text("[results.limits]\nt166_bath_tolerance = 3\n")
    done = CliRunner().invoke(group, ["-w", str(tmp_path), "compute", "vma", "gmb=2.442", "ps=94.7", "gsb=2.703"])
    assert isinstance(done.exception, SettingsError) and "t166_bath_tolerance_c" in str(done.exception)
