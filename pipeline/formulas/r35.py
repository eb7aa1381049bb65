"""AASHTO R 35: volumetric analysis."""

import polars as pl

from pipeline.formulas.conditions import near
from pipeline.formulas.model import COMMON_PRACTICE, Check, Formula, Grain, Mean, Property, bounds
from schemas.vocabulary import Material, Method

STANDARD = "AASHTO R 35"

GSB = Property("gsb", "Gsb", "combined bulk specific gravity of the aggregate", None, 3)
GSE = Property("gse", "Gse", "effective specific gravity of the aggregate", None, 3)
PBA = Property("pba", "Pba", "absorbed binder, of the aggregate by mass", "%", 2)
PBE = Property("pbe", "Pbe", "effective binder content, of the mix by mass", "%", 2)
VMA = Property("vma", "VMA", "voids in the mineral aggregate", "%", 1)
VFA = Property("vfa", "VFA", "voids filled with binder", "%", 1)
DUST = Property("dust_proportion", "DP", "dust proportion", None, 1)


def _blend(*pairs: pl.Expr) -> pl.Expr:
    shares, gravities = pairs[0::2], pairs[1::2]
    total = shares[0] if len(shares) == 1 else sum(shares[1:], start=shares[0])
    volumes = [share / gravity for share, gravity in zip(shares, gravities, strict=True)]
    return total / sum(volumes[1:], start=volumes[0])


BLEND = Formula(
    property=GSB,
    grain=Grain.SAMPLE,
    route="blend",
    standard=STANDARD,
    section="combined gravity of the aggregate",
    equation="Gsb = ΣP / Σ(P / G)",
    inputs=("p1", "g1", "p2", "g2"),
    expression=_blend,
    by_hand_only=True,
    variadic=("p", "g"),
)

ABOVE_BULK = Check(
    code="gse_below_gsb",
    sentence="the effective gravity is below the bulk gravity of the aggregate: Gmm, Pb, Gb or Gsb is wrong",
    inputs=("gse", "gsb"),
    holds=lambda gse, gsb: gse >= gsb,
    limit="Gse >= Gsb",
    source="order of the gravities",
    mark=COMMON_PRACTICE,
)
BELOW_APPARENT = Check(
    code="gse_above_gsa",
    sentence="the effective gravity is above the apparent gravity of the aggregate: Gmm, Pb, Gb or Gsa is wrong",
    inputs=("gse", "gsa"),
    holds=lambda gse, gsa: gse <= gsa,
    limit="Gse <= Gsa",
    source="order of the gravities",
    mark=COMMON_PRACTICE,
)
VOLUMES_CLOSE = Check(
    code="volumes_do_not_close",
    sentence="air voids and effective binder do not fill the voids in the mineral aggregate: one of them is wrong",
    inputs=("vma", "air_voids", "vbe"),
    holds=lambda vma, voids, binder, share: near(vma - voids - binder, 0, share),
    bounds=bounds("pct", volumes_close_within=0.01),
    limit="Va + Vbe = VMA within {} %",
    source="AASHTO R 35, by the meaning of the figures",
    mark=COMMON_PRACTICE,
)
ABSORBED_POSITIVE = Check(
    code="absorbed_binder_negative",
    sentence="the absorbed binder is negative: Gmm, Pb, Gb or Gsb is wrong",
    inputs=("pba",),
    holds=lambda pba: pba >= 0,
    limit="Pba >= 0",
    source="AASHTO R 35, by the meaning of the figures",
    mark=COMMON_PRACTICE,
)
EFFECTIVE_BELOW_TOTAL = Check(
    code="effective_binder_above_total",
    sentence="the effective binder exceeds the binder content",
    inputs=("pbe", "pb"),
    holds=lambda pbe, pb: pbe <= pb,
    limit="Pbe <= Pb",
    source="AASHTO R 35, by the meaning of the figures",
    mark=COMMON_PRACTICE,
)

EFFECTIVE_GRAVITY = Formula(
    property=GSE,
    grain=Grain.SAMPLE,
    route="from_gmm",
    standard=STANDARD,
    section="effective specific gravity",
    equation="Gse = (100 - Pb) / (100 / Gmm - Pb / Gb)",
    inputs=("gmm", "pb", "gb"),
    expression=lambda gmm, pb, gb: (100 - pb) / (100 / gmm - pb / gb),
    checks=(ABOVE_BULK, BELOW_APPARENT),
    material=Material.MIX,
)
ABSORBED = Formula(
    property=PBA,
    grain=Grain.SAMPLE,
    route="from_gravities",
    standard=STANDARD,
    section="absorbed binder",
    equation="Pba = 100 Gb (Gse - Gsb) / (Gse · Gsb)",
    inputs=("gse", "gsb", "gb"),
    expression=lambda gse, gsb, gb: 100 * gb * (gse - gsb) / (gse * gsb),
    checks=(ABSORBED_POSITIVE,),
    material=Material.MIX,
)
EFFECTIVE = Formula(
    property=PBE,
    grain=Grain.SAMPLE,
    route="from_absorbed",
    standard=STANDARD,
    section="effective binder content",
    equation="Pbe = Pb - Pba · Ps / 100",
    inputs=("pba", "pb", "ps"),
    # Times 0.01, for polars divides a long column by a number through its reciprocal, and a single row truly: a sample
    # derived alone would differ in its last digit from the same sample among others.
    expression=lambda pba, pb, ps: pb - pba * (ps * 0.01),
    checks=(EFFECTIVE_BELOW_TOTAL,),
    material=Material.MIX,
)
AGGREGATE_VOIDS = Formula(
    property=VMA,
    grain=Grain.SPECIMEN,
    route="from_gravities",
    standard=STANDARD,
    section="voids in the mineral aggregate",
    equation="VMA = 100 - Gmb · Ps / Gsb",
    inputs=("gmb", "ps", "gsb"),
    takes=(("gmb", "gmb_n_design"),),
    expression=lambda gmb, ps, gsb: 100 - gmb * ps / gsb,
    method=Method.T166,
    material=Material.MIX,
)
AGGREGATE_VOIDS_OF_SAMPLE = Mean(
    property=VMA,
    grain=Grain.SAMPLE,
    of=VMA,
    of_grain=Grain.SPECIMEN,
    method=Method.T166,
    standard=STANDARD,
    material=Material.MIX,
)
FILLED = Formula(
    property=VFA,
    grain=Grain.SAMPLE,
    route="from_voids",
    standard=STANDARD,
    section="voids filled with binder",
    equation="VFA = 100 (VMA - Va) / VMA, from unrounded VMA and Va",
    inputs=("vma", "air_voids"),
    expression=lambda vma, air_voids: 100 * (vma - air_voids) / vma,
    checks=(VOLUMES_CLOSE,),
    material=Material.MIX,
)
DUST_TO_BINDER = Formula(
    property=DUST,
    grain=Grain.SAMPLE,
    route="from_passing",
    standard=STANDARD,
    section="dust proportion (decimals from memory)",
    equation="DP = P0.075 / Pbe",
    inputs=("passing_0_075", "pbe"),
    expression=lambda passing, pbe: passing / pbe,
    material=Material.MIX,
)
