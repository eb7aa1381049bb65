"""The numbers in checks are settings: listed with source and mark, replaced by name, and part of a figure's version."""

import json
import re

import pytest
from click.testing import CliRunner

from pipeline.cli.group import group
from pipeline.derive import Derived
from pipeline.formulas import bounds, registry
from pipeline.formulas.model import FROM_MEMORY, Bound, Check
from pipeline.settings import Results, SettingsError
from tests.unit.pipeline.derive.test_compaction_curve import LEVELS, pressed

#: Inputs that the derivation takes from the settings.
_OF_SETTINGS = re.compile(r"_(limit|low|high|from|check|end_load)$")


def test_no_number_from_memory_is_locked() -> None:
    """What was not seen in print may be wrong: a laboratory that holds the standard must be able to mend it."""
    locked = [
        (check.code, check.limit)
        for check in registry.load().checks()
        if check.mark == FROM_MEMORY
        and re.search(r"\d", check.limit)
        and not check.bounds
        and not any(_OF_SETTINGS.search(name) for name in check.inputs)
    ]
    assert locked == []


def test_every_bound_is_said_in_its_limit() -> None:
    for name, checks in bounds.listed(registry.load().checks()).items():
        for check in checks:
            value = next(each.value for each in check.bounds if each.name == name)
            assert f"{value:g}" in check.limit_text, (name, check.limit_text)


def test_a_changed_bound_changes_flag_limit_and_version() -> None:
    held = pressed(dict(enumerate(LEVELS, start=1)))
    choices = Results(limits={"t312_height_mm": 125})
    moved = pressed(dict(enumerate(LEVELS, start=1)), choices)
    assert _flags(held) ^ _flags(moved) == {"specimen_out_of_limits"}
    stated = {row["code"]: row for row in registry.load(choices.limits).flags().to_dicts()}["specimen_out_of_limits"]
    assert "height 125 ± 5 mm at 150 mm diameter" in stated["limit_text"]
    assert "height 115 ± 5 mm" not in stated["limit_text"]
    assert "(setting)" in stated["source"]
    assert _version({}) != _version(dict(choices.limits))
    assert _version({"t245_delay_s": 40}) == _version({})


def _flags(derived: Derived) -> set[str]:
    return {flag for flags in derived.property_values["flags"].drop_nulls() for flag in flags.split()}


def _version(limits: dict[str, float]) -> list[str]:
    known = registry.load(limits)
    return [registry.version(route) for route in known.routes if route.property.name == "relative_density_n_design"]


def test_an_unknown_bound_is_refused_with_a_near_name() -> None:
    with pytest.raises(
        SettingsError, match=r"'t312_presure_kpa' is not the limit .* Did you mean 't312_pressure_kpa'\?"
    ):
        registry.load({"t312_presure_kpa": 500})


def test_a_bound_has_one_value() -> None:
    def check(value: float) -> Check:
        return Check("a", "b", ("x",), lambda x, most: x <= most, "{}", "c", bounds=(Bound("most", value),))

    assert list(bounds.listed([check(1), check(1)])) == ["most"]
    with pytest.raises(bounds.TwoValuesError, match="'most' is stated with two values"):
        bounds.listed([check(1), check(2)])


def test_the_command_lists_them_as_a_workspace_has_them(tmp_path) -> None:
    (tmp_path / "mixledger.toml").write_text("[results.limits]\nt283_freezer_c = -20\n")
    done = CliRunner().invoke(group, ["-w", str(tmp_path), "methods", "--limits", "--json"], catch_exceptions=False)
    rows = {row["name"]: row for row in json.loads(done.output)}
    assert rows["t283_freezer_c"]["value"] == -20
    assert rows["t283_freezer_c"]["mark"] == "setting"
    assert rows["t312_pressure_tolerance_kpa"] == {
        "name": "t312_pressure_tolerance_kpa",
        "value": 18,
        "flag": "ram_pressure_off",
        "limit": "600 ± 18 kPa",
        "source": "Florida asphalt plant level 1 study cards; AASHTO T 312",
        "mark": "from memory",
    }
    # Two ladders stand in one check: only the one that was not seen in print says so.
    assert rows["t27_least_mass_at_19_mm_g"]["mark"] == "from memory"
    assert rows["wsdot_least_mass_at_19_mm_g"]["mark"] is None
    assert len(rows) == len(bounds.listed(registry.load().checks()))
