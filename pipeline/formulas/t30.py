"""AASHTO T 30 with T 11: washed gradation of extracted aggregate."""

import polars as pl

from pipeline.formulas.conditions import near
from pipeline.formulas.model import (
    COMMON_PRACTICE,
    FROM_MEMORY,
    Check,
    Formula,
    Grain,
    Mean,
    Precision,
    Property,
    bounds,
)
from schemas.vocabulary import Method

STANDARD = "AASHTO T 30"

#: Openings in mm of the sieves of mixture work (ASTM E11).
SIEVES = (50.0, 37.5, 25.0, 19.0, 12.5, 9.5, 4.75, 2.36, 1.18, 0.6, 0.3, 0.15, 0.075)

PASSING = Property(
    "passing", "P", "passing the sieve, by mass", "%", 0, at="sieve_mm", places=SIEVES, decimals_at=((0.075, 1),)
)
SIEVING_LOSS = Property("sieving_loss", "loss", "mass lost in sieving, of the mass after washing", "%", 2)

WASH_ORDER = Check(
    code="masses_out_of_order",
    sentence="the masses contradict each other",
    inputs=("mass_before_wash", "mass_after_wash"),
    holds=lambda before, after: before >= after,
    limit="before washing >= after washing",
    source="AASHTO T 11, by the meaning of the masses",
    mark=COMMON_PRACTICE,
    effect="withhold",
    remedy="compare both masses with the balance print-out; correct the role or the mass, and export again",
)
RETAINED_WITHIN = Check(
    code="retained_above_total",
    sentence="more is retained than was sieved",
    inputs=("mass_before_wash", "mass_retained_cumulative"),
    holds=lambda before, retained: retained <= before,
    limit="sum of the masses retained <= mass before washing",
    source="AASHTO T 30, by the meaning of the masses",
    mark=COMMON_PRACTICE,
    effect="withhold",
    remedy="compare the masses retained with the balance print-out (cumulative ones entered as single?); export again",
)


def _lost(after: pl.Expr, retained: pl.Expr) -> pl.Expr:
    return 100 * (after - retained) / after


LOSS_T30 = Check(
    code="sieving_loss_above_limit",
    sentence="the masses before and after sieving differ too much",
    inputs=("mass_after_wash", "mass_retained_total", "sieving_check"),
    holds=lambda after, retained, allowed: _lost(after, retained).abs() <= allowed.fill_null(0.2) + 1e-9,
    limit="difference at most 0.2 % of the mass after washing, unless the settings say otherwise",
    source="AASHTO T 30",
    mark=FROM_MEMORY,
)
LOSS_T27 = Check(
    code="sieving_loss_above_t27_limit",
    sentence="the masses before and after sieving differ more than T 27 allows",
    inputs=("mass_after_wash", "mass_retained_total"),
    holds=lambda after, retained, most: near(_lost(after, retained), 0, most),
    bounds=bounds("pct", t27_sieving_loss=0.3),
    limit="difference at most {} % of the mass after washing",
    source="WAQTC note to the FOP for AASHTO T 27/T 11",
)

LOSS = Formula(
    property=SIEVING_LOSS,
    grain=Grain.SPECIMEN,
    route="check_sum",
    standard=STANDARD,
    section="check sum",
    equation="loss = 100 (M after washing - ΣR) / M after washing, pan included",
    inputs=("mass_after_wash", "mass_retained_total"),
    expression=_lost,
    checks=(WASH_ORDER, LOSS_T30, LOSS_T27),
    method=Method.T30,
    parameters=("sieving_check_pct",),
)
PASSING_SIEVE = Formula(
    property=PASSING,
    grain=Grain.SPECIMEN_SIEVE,
    route="washed",
    standard=STANDARD,
    section="calculation, on the dry mass before washing",
    equation="P = 100 (M - ΣR) / M, with M dry mass before washing, ΣR retained on this and all larger sieves",
    inputs=("mass_before_wash", "mass_retained_cumulative"),
    expression=lambda before, retained: 100 * (before - retained) / before,
    checks=(WASH_ORDER, RETAINED_WITHIN, LOSS_T30, LOSS_T27),
    precision=Precision("T 27, by the share passing; for 5 to 10 %: s 0.75, d2s 2.1 (%)", FROM_MEMORY),
    method=Method.T30,
    parameters=("sieving_check_pct",),
    lead=("mass_retained_cumulative",),
)
PASSING_OF_SAMPLE = Mean(
    property=PASSING,
    grain=Grain.SAMPLE_SIEVE,
    of=PASSING,
    of_grain=Grain.SPECIMEN_SIEVE,
    method=Method.T30,
    standard=STANDARD,
    over=("sample_id", "sieve_mm"),
    parameters=("sieving_check_pct",),
)
