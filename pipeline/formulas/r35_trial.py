"""AASHTO R 35: trial blends, estimates at the design air voids, and targets of a design; by hand."""

import polars as pl

from pipeline.formulas.model import FROM_MEMORY, Check, Expression, Formula, Grain, Property, Quantity
from pipeline.formulas.r35 import STANDARD

_MEMORY = f"{STANDARD}, FHWA-SA-95-003"
_TRIAL = f"trial blend ({FROM_MEMORY})"
_ESTIMATE = f"estimates at the design air voids ({FROM_MEMORY})"

#: Constants that were not seen in print: inputs with a default, so that another may be given.
DEFAULTS = {
    "air_voids_design": 4.0,
    "absorption_share": 0.8,
    "pb_trial": 5.0,
    "vbe_constant": 0.176,
    "vbe_slope": 0.0675,
    "pb_per_void": 0.4,
    "vma_per_void_below": 0.1,
    "vma_per_void_above": 0.2,
    "absorbed_allowance": 1.0,
}
CONSTANTS = tuple(
    Quantity(name, symbol, title, unit, Grain.SAMPLE)
    for name, symbol, title, unit in (
        ("air_voids_design", "Va design", "air voids of the design", "%"),
        ("absorption_share", "k", "share of the way from Gsb to Gsa at which Gse is taken", None),
        ("pb_trial", "Pb trial", "binder content assumed for the trial", "%"),
        ("vbe_constant", "a", "constant of the effective binder volume", None),
        ("vbe_slope", "b", "factor of the logarithm of the nominal size in mm", None),
        ("pb_per_void", "ΔPb", "binder content for 1 % of air voids", "%"),
        ("vma_per_void_below", "C", "VMA for 1 % of air voids, where they are below those of the design", "%"),
        ("vma_per_void_above", "C", "VMA for 1 % of air voids, where they are above those of the design", "%"),
        ("absorbed_allowance", "ΔVb", "volume of absorbed binder allowed for", "%"),
        ("gmm_initial_pct", "%Gmm ini", "density of the trial at N initial", "%"),
        ("gmm_maximum_pct", "%Gmm max", "density of the trial at N maximum", "%"),
        ("water_absorbed", "Pwa", "water absorbed by the aggregate, by mass", "%"),
    )
)


def _formula(
    prop: Property,
    equation: str,
    inputs: tuple[str, ...],
    expression: Expression,
    section: str = _TRIAL,
    standard: str = _MEMORY,
    route: str = "by_hand",
    checks: tuple[Check, ...] = (),
) -> Formula:
    return Formula(
        property=prop,
        grain=Grain.SAMPLE,
        route=route,
        standard=standard,
        section=section,
        equation=equation,
        inputs=inputs,
        expression=expression,
        defaults=tuple((name, DEFAULTS[name]) for name in inputs if name in DEFAULTS),
        by_hand_only=True,
        checks=checks,
    )


GSE_TRIAL = Property("gse_trial", "Gse trial", "effective specific gravity estimated for a trial blend", None, 3)
WS_TRIAL = Property("ws_trial", "Ws", "mass of aggregate in 1 cm³ of a trial mix, in g", None, 3)
VBA_TRIAL = Property("vba_trial", "Vba trial", "volume of absorbed binder in 1 cm³ of a trial mix, in cm³", None, 4)
VBE_TRIAL = Property("vbe_trial", "Vbe trial", "volume of effective binder in 1 cm³ of a trial mix, in cm³", None, 4)
PB_INITIAL = Property("pb_initial", "Pbi", "first trial binder content, of the mix by mass", "%", 2)

TRIAL = (
    _formula(
        GSE_TRIAL,
        "Gse = Gsb + k (Gsa - Gsb), k = 0.8",
        ("gsb", "gsa", "absorption_share"),
        lambda gsb, gsa, share: gsb + share * (gsa - gsb),
    ),
    _formula(
        WS_TRIAL,
        "Ws = Ps (1 - Va) / (Pb / Gb + Ps / Gse), Pb and Va as assumed",
        ("gse_trial", "gb", "pb_trial", "air_voids_design"),
        lambda gse, gb, pb, voids: (100 - pb) * (1 - voids * 0.01) / (pb / gb + (100 - pb) / gse),
    ),
    _formula(
        VBA_TRIAL,
        "Vba = Ws (1 / Gsb - 1 / Gse)",
        ("ws_trial", "gsb", "gse_trial"),
        lambda ws, gsb, gse: ws * (1 / gsb - 1 / gse),
    ),
    _formula(
        VBE_TRIAL,
        "Vbe = a - b log10(Sn), Sn the nominal size in mm, a = 0.176, b = 0.0675",
        ("nmas_found", "vbe_constant", "vbe_slope"),
        lambda nmas, constant, slope: constant - slope * nmas.log(10),
    ),
    _formula(
        PB_INITIAL,
        "Pbi = 100 Gb (Vbe + Vba) / (Gb (Vbe + Vba) + Ws)",
        ("gb", "vbe_trial", "vba_trial", "ws_trial"),
        lambda gb, effective, absorbed, ws: 100 * gb * (effective + absorbed) / (gb * (effective + absorbed) + ws),
    ),
)

PB_ESTIMATED = Property("pb_estimated", "Pb,est", "binder content estimated for the design air voids", "%", 1)
VMA_ESTIMATED = Property("vma_estimated", "VMA,est", "VMA estimated for the design air voids", "%", 1)
VFA_ESTIMATED = Property("vfa_estimated", "VFA,est", "VFA estimated for the design air voids", "%", 1)
PBE_ESTIMATED = Property("pbe_estimated", "Pbe,est", "effective binder estimated for the design air voids", "%", 1)
DUST_ESTIMATED = Property("dust_estimated", "DP,est", "dust proportion estimated for the design air voids", None, 2)
INITIAL_ESTIMATED = Property(
    "gmm_initial_estimated", "%Gmm ini,est", "density at N initial estimated for the design air voids", "%", 1
)
MAXIMUM_ESTIMATED = Property(
    "gmm_maximum_estimated", "%Gmm max,est", "density at N maximum estimated for the design air voids", "%", 1
)


def _shifted(density: pl.Expr, voids: pl.Expr, design: pl.Expr) -> pl.Expr:
    return density - (design - voids)


ESTIMATES = (
    _formula(
        PB_ESTIMATED,
        "Pb,est = Pbi - 0.4 (Va design - Va)",
        ("pb", "air_voids", "air_voids_design", "pb_per_void"),
        lambda pb, voids, design, per: pb - per * (design - voids),
        _ESTIMATE,
    ),
    _formula(
        VMA_ESTIMATED,
        "VMA,est = VMA + C (Va design - Va), C = 0.1 where Va is below those of the design, 0.2 where above",
        ("vma", "air_voids", "air_voids_design", "vma_per_void_below", "vma_per_void_above"),
        lambda vma, voids, design, below, above: (
            vma + pl.when(voids < design).then(below).otherwise(above) * (design - voids)
        ),
        _ESTIMATE,
    ),
    _formula(
        VFA_ESTIMATED,
        "VFA,est = 100 (VMA,est - Va design) / VMA,est",
        ("vma_estimated", "air_voids_design"),
        lambda vma, design: 100 * (vma - design) / vma,
        _ESTIMATE,
    ),
    _formula(
        INITIAL_ESTIMATED,
        "%Gmm ini,est = %Gmm ini - (Va design - Va)",
        ("gmm_initial_pct", "air_voids", "air_voids_design"),
        _shifted,
        _ESTIMATE,
    ),
    _formula(
        MAXIMUM_ESTIMATED,
        "%Gmm max,est = %Gmm max - (Va design - Va)",
        ("gmm_maximum_pct", "air_voids", "air_voids_design"),
        _shifted,
        _ESTIMATE,
    ),
    _formula(
        PBE_ESTIMATED,
        "Pbe,est = Pb,est - Ps · Gb (Gse - Gsb) / (Gse · Gsb), Ps = 100 - Pb,est",
        ("pb_estimated", "gb", "gse", "gsb"),
        lambda pb, gb, gse, gsb: pb - (100 - pb) * gb * (gse - gsb) / (gse * gsb),
        _ESTIMATE,
    ),
    _formula(
        DUST_ESTIMATED,
        "DP,est = P0.075 / Pbe,est",
        ("passing_0_075", "pbe_estimated"),
        lambda passing, pbe: passing / pbe,
        _ESTIMATE,
    ),
)

TOTAL_TARGET = Property("binder_volume_target", "Vb target", "binder to aim at, of the bulk volume", "%", 1)
TARGETS = (
    _formula(
        TOTAL_TARGET,
        "Vb = Vbe + 1 %, a quick estimate",
        ("vbe", "absorbed_allowance"),
        lambda effective, absorbed: effective + absorbed,
        "target effective binder, p. 114",
        "NCHRP Report 673",
        "quick",
    ),
    _formula(
        TOTAL_TARGET,
        "Vb = Vbe + (1 - VMA / 100) Gsb · Pwa / 2",
        ("vbe", "vma", "gsb", "water_absorbed"),
        lambda effective, vma, gsb, absorbed: effective + (1 - vma * 0.01) * gsb * absorbed * 0.5,
        "equation 8-1, rebuilt from machine-read text: its grouping is to be confirmed",
        "NCHRP Report 673",
        "by_water_absorption",
    ),
)
