"""AASHTO R 35: volumes in the compacted mixture, and further forms of its figures."""

from pipeline.formulas.model import Expression, Formula, Grain, Mean, Property
from pipeline.formulas.r35 import GSE, STANDARD, VMA
from pipeline.formulas.t166 import GMB
from pipeline.formulas.t308 import PB
from schemas.vocabulary import Material, Method

VBE = Property("vbe", "Vbe", "effective binder, of the bulk volume", "%", 2)
VBA = Property("vba", "Vba", "absorbed binder, of the bulk volume", "%", 2)
BINDER_VOLUME = Property("binder_volume", "Vb", "binder, of the bulk volume", "%", 2)
AGGREGATE_VOLUME = Property(
    "aggregate_volume", "Vsb", "aggregate with its water-permeable pores, of the bulk volume", "%", 2
)
PB_OF_AGGREGATE = Property("pb_of_aggregate", "P'b", "binder content, of the aggregate by mass", "%", 2)

_GMB = (("gmb", "gmb_n_design"),)


def _of_mix(prop: Property, section: str, equation: str, inputs: tuple[str, ...], expression: Expression) -> Formula:
    return Formula(
        property=prop,
        grain=Grain.SPECIMEN,
        route="from_masses",
        standard=STANDARD,
        section=section,
        equation=equation,
        inputs=inputs,
        expression=expression,
        takes=_GMB,
        method=Method.T166,
        material=Material.MIX,
    )


VOLUMES = (
    _of_mix(
        VBE,
        "volume of the effective binder",
        "Vbe = Pbe · Gmb / Gb",
        ("gmb", "pbe", "gb"),
        lambda gmb, pbe, gb: pbe * gmb / gb,
    ),
    _of_mix(
        VBA,
        "volume of the absorbed binder",
        "Vba = Pba · Ps · Gmb / (100 Gb)",
        ("gmb", "pba", "ps", "gb"),
        lambda gmb, pba, ps, gb: pba * (ps * 0.01) * gmb / gb,
    ),
)
OF_SAMPLE = tuple(
    Mean(
        property=prop,
        grain=Grain.SAMPLE,
        of=prop,
        of_grain=Grain.SPECIMEN,
        method=Method.T166,
        standard=STANDARD,
        material=Material.MIX,
    )
    for prop in (VBE, VBA)
)


def _by_hand(
    prop: Property, route: str, section: str, equation: str, inputs: tuple[str, ...], expression: Expression
) -> Formula:
    return Formula(
        property=prop,
        grain=Grain.SAMPLE,
        route=route,
        standard=STANDARD,
        section=section,
        equation=equation,
        inputs=inputs,
        expression=expression,
        by_hand_only=True,
    )


FORMS = (
    _by_hand(
        VBE,
        "difference",
        "volume of the effective binder",
        "Vbe = VMA - Va",
        ("vma", "air_voids"),
        lambda vma, voids: vma - voids,
    ),
    _by_hand(
        BINDER_VOLUME,
        "from_masses",
        "volumes",
        "Vb = Pb · Gmb / Gb",
        ("pb", "gmb", "gb"),
        lambda pb, gmb, gb: pb * gmb / gb,
    ),
    _by_hand(
        AGGREGATE_VOLUME,
        "from_masses",
        "volumes",
        "Vsb = Ps · Gmb / Gsb",
        ("ps", "gmb", "gsb"),
        lambda ps, gmb, gsb: ps * gmb / gsb,
    ),
    _by_hand(
        PB_OF_AGGREGATE, "from_pb", "symbols", "P'b = 100 Pb / (100 - Pb)", ("pb",), lambda pb: 100 * pb / (100 - pb)
    ),
    _by_hand(
        PB,
        "from_pb_of_aggregate",
        "symbols",
        "Pb = 100 P'b / (100 + P'b)",
        ("pb_of_aggregate",),
        lambda content: 100 * content / (100 + content),
    ),
    _by_hand(
        VMA,
        "of_aggregate_content",
        "voids in the mineral aggregate, binder by mass of aggregate",
        "VMA = 100 - Gmb / Gsb · 100 / (100 + P'b) · 100",
        ("gmb", "gsb", "pb_of_aggregate"),
        lambda gmb, gsb, content: 100 - gmb / gsb * (100 / (100 + content)) * 100,
    ),
    _by_hand(
        VMA,
        "of_volumes",
        "voids in the mineral aggregate",
        "VMA = Va + Vbe",
        ("air_voids", "vbe"),
        lambda voids, binder: voids + binder,
    ),
    _by_hand(
        GSE,
        "from_absorbed",
        "effective specific gravity",
        "Gse = 1 / (1 / Gsb - Pba / (100 Gb))",
        ("gsb", "pba", "gb"),
        lambda gsb, pba, gb: 1 / (1 / gsb - pba / (100 * gb)),
    ),
    _by_hand(
        GMB,
        "from_voids",
        "air voids",
        "Gmb = Gmm (1 - Va / 100)",
        ("gmm", "air_voids"),
        lambda gmm, voids: gmm * (1 - voids * 0.01),
    ),
)
