"""Computing by hand: routes, chains, and sentences a person can act on."""

import pytest

from pipeline.compute import compute, list_properties
from pipeline.solving import ContradictionError, MissingInputsError, UnknownNameError

MS2 = {"gmm": 2.535, "pb": 5.3, "gb": 1.03, "gsb": 2.703}


def test_shown_and_reported_figures() -> None:
    voids = compute("air_voids", gmb=2.442, gmm=2.535)
    assert (voids.shown, voids.text, voids.unit, voids.symbol) == ("3.67", "3.7", "%", "Va")
    assert voids.value == pytest.approx(3.668639, abs=1e-6)
    assert voids.standard == "AASHTO T 269"
    assert compute("vma", gmb=2.442, ps=94.7, gsb=2.703).text == "14.4"


def test_inputs_that_follow_are_derived_and_shown() -> None:
    effective = compute("pbe", MS2)
    assert effective.text == "4.54"
    assert [step.split(" = ")[0] for step in effective.steps] == ["Gse", "Pba", "Ps", "Pbe"]


def test_percentages_are_percentages() -> None:
    assert compute("ps", pb=5.3).value == pytest.approx(94.7)
    assert compute("pb", ps=94.7).value == pytest.approx(5.3)


def test_a_property_never_rests_on_itself() -> None:
    with pytest.raises(MissingInputsError):
        compute("pb", gmb=2.4)
    with pytest.raises(MissingInputsError):
        compute("gmm", pb=5.0, gb=1.03)


def test_unknown_names_are_told_with_near_ones() -> None:
    with pytest.raises(UnknownNameError) as refused:
        compute("air_void", gmb=2.4, gmm=2.5)
    assert "'air_void' is not a property that can be computed. Did you mean air_voids" in str(refused.value)
    with pytest.raises(UnknownNameError) as refused:
        compute("air_voids", gmb=2.4, gnm=2.5)
    assert "'gnm' is not an input of any formula. Did you mean gmm" in str(refused.value)


def test_missing_inputs_list_every_route() -> None:
    with pytest.raises(MissingInputsError) as refused:
        compute("gmm", mass_dry=1200.0)
    told = str(refused.value).splitlines()
    assert told[0] == "gmm: not enough is given. Any one of these sets of inputs will do:"
    assert len(told) == 8
    assert told[1].startswith(
        "  mass_dry mass_container_water mass_container_sample_water [water_temperature]   missing: "
    )
    assert "mass_dry" not in told[1].partition("missing: ")[2]


def test_a_share_without_its_gravity() -> None:
    with pytest.raises(MissingInputsError, match="gsb: g2 missing: p1 and g1 belong together, and so do the others"):
        compute("gsb", p1=50, g1=2.7, p2=50)


def test_masses_out_of_order() -> None:
    with pytest.raises(ContradictionError) as refused:
        compute("gmb", mass_dry=1200.0, mass_ssd=1199.0, mass_submerged=700.0)
    assert str(refused.value) == "gmb: the masses contradict each other (surface-dry >= dry > submerged is required)"


def test_figures_that_cannot_all_be_true() -> None:
    with pytest.raises(ContradictionError, match="gives no finite number"):
        compute("air_voids", gmb=2.4, gmm=0.0)
    with pytest.raises(ContradictionError, match="is not a number that can be measured"):
        compute("air_voids", gmb=2.4, gmm=float("nan"))


def test_doubtful_figures_say_so() -> None:
    assert compute("air_voids", gmb=2.55, gmm=2.5).codes == ("gmb_not_below_gmm",)
    assert compute("air_voids", gmb=2.4, gmm=2.5).flags == ()


def test_every_property_listed_can_be_asked_for() -> None:
    rows = list_properties()
    assert {"property", "symbol", "unit", "inputs", "standard"} <= rows[0].keys()
    for row in rows:
        with pytest.raises(MissingInputsError):
            compute(str(row["property"]))
