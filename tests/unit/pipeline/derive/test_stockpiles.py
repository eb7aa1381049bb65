"""The blend of a mix design: what its stockpiles give together, and where it contradicts what the design states."""

import pytest

from pipeline.derive import Inputs, derive
from pipeline.validation.records import design, frame, sample

#: Question on the gravity of a blend (seen in print): 55, 25 and 20 % of 2.631, 2.331 and 2.609 give 2.545.
SHARES, GRAVITIES = (55.0, 25.0, 20.0), (2.631, 2.331, 2.609)


def blended(shares=SHARES, gravities=GRAVITIES, material="mix", **stated) -> dict[str, object] | None:
    """Return the combined gravity of a sample of such a mix."""
    piles = [
        {"mix_id": "HB-1", "revision": 1, "stockpile": f"pile {number}", "share_pct": share, "gsb": gravity}
        for number, (share, gravity) in enumerate(zip(shares, gravities, strict=True), start=1)
    ]
    made = {"sample": [sample(material=material)], "mix_design": [design(**stated)], "stockpile": piles}
    values = derive(Inputs.of(**{name: frame(name, rows) for name, rows in made.items()})).property_values
    rows = [row for row in values.to_dicts() if row["property"] == "gsb_blend"]
    return rows[0] if rows else None


def test_combined_gravity_of_the_stockpiles() -> None:
    row = blended(gsb=2.545)
    assert (row["value"], row["flags"]) == (pytest.approx(2.545, abs=5e-4), None)


def test_a_gravity_stated_otherwise_is_told() -> None:
    assert blended(gsb=2.560)["flags"] == "gsb_off_blend"
    assert blended(gsb=None)["flags"] is None


def test_shares_that_do_not_add_up_are_told() -> None:
    assert blended(shares=(55.0, 25.0, 19.0))["flags"] == "blend_not_whole"


def test_without_the_gravity_of_a_stockpile_there_is_a_reason_and_no_figure() -> None:
    row = blended(gravities=(2.631, None, None))
    told = "Gsb missing in the mix design for the stockpile pile 2, pile 3"
    assert (row["value"], row["withheld"]) == (None, told)


def test_without_a_blend_or_for_other_material_nothing_is_due() -> None:
    assert blended(shares=(), gravities=()) is None
    assert blended(material="aggregate") is None
