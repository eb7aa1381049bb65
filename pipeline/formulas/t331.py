"""AASHTO T 331: bulk specific gravity of compacted specimens, sealed in a bag under vacuum."""

from dataclasses import replace

import polars as pl

from pipeline.formulas.circumstances import BALANCE, usual_gravity
from pipeline.formulas.model import COMMON_PRACTICE, FROM_MEMORY, Check, Formula, Grain, Mean, Precision, Property
from pipeline.formulas.t166 import BATH, CORE_GMB, GMB
from schemas.vocabulary import Material, Method

STANDARD = "AASHTO T 331"

GMB_SEALED = Property("gmb_sealed", "Gmb (T 331)", "bulk specific gravity by vacuum sealing", None, 3)

_MASSES = ("mass_dry", "mass_sealed", "mass_unsealed", "mass_sealed_submerged")
_TAKES = (("mass_dry", "mass_dry_t331"), ("water_temperature", "water_temperature_t331"))
_REMEDY = "compare the masses with the balance print-out; correct the role or the mass, and export again"

MASS_ORDER = Check(
    code="masses_out_of_order",
    sentence="the masses contradict each other",
    inputs=("mass_dry", "mass_sealed", "mass_sealed_submerged"),
    holds=lambda dry, sealed, submerged: (sealed > dry) & (dry > submerged),
    limit="sealed in air > dry > sealed in water",
    source="AASHTO T 331, by the meaning of the masses",
    mark=COMMON_PRACTICE,
    effect="withhold",
    remedy=_REMEDY,
)


def _tight(dry: pl.Expr, unsealed: pl.Expr, loss: pl.Expr, gain: pl.Expr) -> pl.Expr:
    # By hand there are no settings: the limits as shipped.
    change = 100 * (unsealed - dry) / dry
    return (change >= -loss.fill_null(0.08)) & (change <= gain.fill_null(0.04))


NO_LEAK = Check(
    code="bag_leaked",
    sentence="the mass changed in the bag: it leaked or tore",
    inputs=("mass_dry", "mass_unsealed", "bag_loss_limit", "bag_gain_limit"),
    holds=_tight,
    limit="at most 0.08 % lost and 0.04 % gained, or as the settings say",
    source="AASHTO T 331, check of the mass after the bag is removed",
    mark=FROM_MEMORY,
    effect="withhold",
    remedy="repeat the test of that specimen in a new bag; if a mass was mistyped, correct it and export again",
)


def _bulk(
    dry: pl.Expr, sealed: pl.Expr, unsealed: pl.Expr, submerged: pl.Expr, gravity: pl.Expr, change: pl.Expr
) -> pl.Expr:
    bag = sealed - dry
    return dry / (unsealed + bag - submerged - bag / (gravity + change * dry / bag))


SEALED = Formula(
    property=GMB_SEALED,
    grain=Grain.SPECIMEN,
    route="sealed",
    standard=STANDARD,
    section="7 (number from memory)",
    equation="Gmb = A / (C + (B - A) - E - (B - A) / F), with A dry, B sealed, C out of the bag again, all in air, "
    "E sealed in water, F the bag's apparent gravity, by its maker constant or F + F1 · A / (B - A)",
    inputs=(*_MASSES, "bag_gravity", "bag_gravity_change"),
    expression=_bulk,
    defaults=(("bag_gravity_change", 0.0),),
    takes=_TAKES,
    checks=(MASS_ORDER, NO_LEAK, BATH, BALANCE, usual_gravity(GMB_SEALED)),
    precision=Precision("D6752: single operator s 0.0124, d2s 0.035; multilaboratory s 0.0135, d2s 0.038", FROM_MEMORY),
    method=Method.T331,
    parameters=("bag_gravity_small", "bag_gravity_large", "bag_loss_pct", "bag_gain_pct"),
)


def _instead(prop: Property, before: str, material: Material) -> Formula:
    """Return the way in which the sealed figure is the specimen's, where the surface-dry one does not count."""
    return replace(
        SEALED,
        property=prop,
        route=f"{before}sealed",
        checks=(MASS_ORDER, NO_LEAK, BATH, BALANCE, usual_gravity(prop)),
        material=material,
    )


INSTEAD = (_instead(GMB, "", Material.MIX), _instead(CORE_GMB, "core_", Material.CORE))

SEALED_OF_SAMPLE = Mean(
    property=GMB_SEALED,
    grain=Grain.SAMPLE,
    of=GMB_SEALED,
    of_grain=Grain.SPECIMEN,
    method=Method.T331,
    standard=STANDARD,
)
