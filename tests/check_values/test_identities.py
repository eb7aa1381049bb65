"""Identities the equations must keep, whatever the numbers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.compute import compute

GRAVITY = st.floats(2.0, 2.7)
HEIGHT = st.floats(80.0, 160.0)


@given(GRAVITY, st.floats(3000.0, 6000.0), st.floats(100.0, 150.2), HEIGHT, HEIGHT)
def test_both_forms_of_the_gyratory_correction_agree(
    gmb: float, mass: float, diameter: float, final: float, height: float
) -> None:
    # T 312 scales Gmb by heights; FHWA-SA-95-003 goes by an estimated gravity and its correction factor.
    by_heights = compute("gmb_corrected", gmb=gmb, height_final=final, height=height).value
    last = compute("gmb_estimated", mass_mixture=mass, mould_diameter=diameter, height=final).value
    here = compute("gmb_estimated", mass_mixture=mass, mould_diameter=diameter, height=height).value
    assert gmb / last * here == pytest.approx(by_heights, rel=1e-12)


@given(GRAVITY, st.floats(0.001, 0.2), st.floats(3.0, 7.0), st.floats(1.0, 1.06), st.floats(2.3, 2.9))
def test_voids_filled_with_effective_binder(gmb: float, gap: float, pb: float, gb: float, gsb: float) -> None:
    # R 35: VMA - Va is the volume of the effective binder, Pbe Gmb / Gb.
    gmm = gmb + gap
    voids = compute("air_voids", gmb=gmb, gmm=gmm).value
    vma = compute("vma", gmb=gmb, pb=pb, gsb=gsb).value
    effective = compute("pbe", gmm=gmm, pb=pb, gb=gb, gsb=gsb).value
    assert vma - voids == pytest.approx(effective * gmb / gb, abs=1e-9)


@given(GRAVITY, st.floats(3.0, 7.0), st.floats(1.0, 1.06))
def test_effective_gravity_leads_back_to_the_maximum(gmm: float, pb: float, gb: float) -> None:
    gse = compute("gse", gmm=gmm, pb=pb, gb=gb).value
    assert compute("gmm", gse=gse, pb=pb, gb=gb).value == pytest.approx(gmm, rel=1e-12)
