"""Settings of rounding and uncertainty: what is taken, and what is refused with place and expectation."""

import pytest

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
