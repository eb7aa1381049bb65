"""AASHTO R 35: combined gravity of the stockpiles a mix design is blended of, against the one the design states."""

import polars as pl

from pipeline.formulas.conditions import near
from pipeline.formulas.model import COMMON_PRACTICE, Bound, Check, Curve, Formula, Grain, Property, Quantity, around
from pipeline.formulas.r35 import STANDARD
from pipeline.settings import Results
from schemas.vocabulary import Material

GSB_BLEND = Property(
    "gsb_blend", "Gsb blend", "combined bulk specific gravity of the stockpiles of the design", None, 3
)

_SECTION = "combined gravity of the aggregate"
_FOUND = (
    Quantity("blend_shares", "ΣP", "sum of the shares of the stockpiles", "%", Grain.SAMPLE),
    Quantity("blend_gsb", "ΣP / Σ(P / G)", "combined bulk specific gravity of the stockpiles", None, Grain.SAMPLE),
)


def _blended(series: pl.DataFrame, samples: pl.DataFrame, _: Results) -> pl.DataFrame:
    """Return the sum of the shares and the combined gravity of each sample's design, or what is missing for it."""
    unknown = pl.col("stockpile").filter(pl.col("gravity").is_null())
    return (
        samples.join(series, on="sample_id", how="inner", maintain_order="left")
        .group_by("sample_id", maintain_order=True)
        .agg(
            pl.col("share").sum().alias("blend_shares"),
            (pl.col("share").sum() / (pl.col("share") / pl.col("gravity")).sum()).alias("combined"),
            unknown.str.join(", ").alias("unknown"),
        )
        .select(
            "sample_id",
            "blend_shares",
            pl.lit(None, pl.String).alias("blend_shares__why"),
            pl.when(pl.col("unknown") == "").then("combined").alias("blend_gsb"),
            pl.when(pl.col("unknown") != "")
            .then(pl.format("Gsb missing in the mix design for the stockpile {}", "unknown"))
            .alias("blend_gsb__why"),
        )
    )


STOCKPILES = Curve(
    name="stockpile_blend",
    table=(Grain.SAMPLE, None),
    gives=_FOUND,
    standard=STANDARD,
    section=_SECTION,
    procedure="Gsb = ΣP / Σ(P / G) over the stockpiles of the mix design, P share and G bulk specific gravity",
    series="stockpile",
    function=_blended,
)
WHOLE = Check(
    code="blend_not_whole",
    sentence="the shares of the stockpiles do not add up",
    inputs=("blend_shares",),
    holds=near,
    bounds=around("pct", "blend_shares", 100, 0.1),
    limit="shares add up to {} ± {} %",
    source="by the meaning of the shares; room for rounding",
    mark=COMMON_PRACTICE,
)
AS_STATED = Check(
    code="gsb_off_blend",
    sentence="the gravity stated for the aggregate is not that of its stockpiles: one of them is out of date",
    inputs=("gsb_blend", "gsb"),
    holds=lambda blended, stated, most: near(blended - stated, 0, most),
    bounds=(Bound("gsb_off_blend", 0.002),),
    limit="combined gravity within {} of the one stated",
    source=f"{STANDARD}, {_SECTION}; room for rounding",
    mark=COMMON_PRACTICE,
)
OF_STOCKPILES = Formula(
    property=GSB_BLEND,
    grain=Grain.SAMPLE,
    route="of_stockpiles",
    standard=STANDARD,
    section=_SECTION,
    equation="Gsb blend = ΣP / Σ(P / G), with P share and G bulk specific gravity of each stockpile of the mix design",
    inputs=("blend_gsb",),
    expression=lambda combined: combined * 1.0,
    checks=(WHOLE, AS_STATED),
    lead=("blend_shares",),
    material=Material.MIX,
)
