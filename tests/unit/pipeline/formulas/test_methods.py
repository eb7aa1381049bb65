"""The catalogue of properties holds what the registry declares, in every form."""

import json

import pytest
from click.testing import CliRunner

from pipeline import methods
from pipeline.cli.group import group
from pipeline.formulas import registry
from pipeline.methods_page import page
from pipeline.solving import UnknownNameError


def run(*given: str):
    return CliRunner().invoke(group, ["methods", *given])


def test_every_property_and_route_is_there() -> None:
    told = {each["property"]: each for each in methods.catalogue()}
    for route in registry.load().routes:
        (found,) = (
            each
            for each in told[route.property.name]["routes"]
            if (each["route"], each["of"]) == (route.route, route.grain.value)
        )
        assert found["equation"] == route.equation
        assert [each["code"] for each in found["checks"]] == [check.code for check in route.checks]


def test_limits_and_precision_carry_their_marks() -> None:
    shown = run("gmm").output
    source = "AASHTO T 209; ASTM D2041: 4.0 kPa or less [from memory]"
    assert f"residual pressure 3.7 ± 0.3 kPa, or as the settings say (else flag; {source})" in shown
    assert "precision: single operator s 0.0051, d2s 0.014; multilaboratory s 0.0084, d2s 0.024; older: " in shown
    assert "multilaboratory s 0.0064, d2s 0.019 [from memory]" in shown
    assert "input water_temperature: temperature of the water, °C; 25 where not recorded" in shown


def test_as_table_json_and_page(tmp_path) -> None:
    assert len(run().output.splitlines()) == len(methods.catalogue()) + 1
    assert json.loads(run("vma", "--json").output)[0]["symbol"] == "VMA"
    target = tmp_path / "methods.html"
    assert run("--html", str(target)).exit_code == 0
    text = target.read_text()
    for entry in methods.catalogue():
        assert f'id="{entry["property"]}"' in text
    assert "surface_dry" in text
    assert "<script" not in page(methods.catalogue()).decode()


def test_contributions_are_listed_with_their_marks() -> None:
    rows = json.loads(run("--uncertainty", "--json").output)
    assert {"name", "value", "unit", "source", "mark"} <= set(rows[0])
    assert all(row["mark"] for row in rows)


def test_an_unknown_property_is_told_with_near_ones() -> None:
    with pytest.raises(UnknownNameError, match=r"'vmaa' is not a property\. Did you mean vma"):
        methods.catalogue("vmaa")
