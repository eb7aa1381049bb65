"""Which revision of its mix design a sample belongs to, and what that design gives its formulas."""

import polars as pl

#: Column of the mix design -> quantity of the formulas, with the symbol used when it is missing.
DESIGN = {
    "gb": ("gb", "Gb"),
    "gsb": ("gsb", "Gsb"),
    "gsa": ("gsa", "Gsa"),
    "pb_pct": ("pb_target", "target Pb"),
    "ignition_correction_pct": ("ignition_correction", "correction factor of the ignition furnace"),
    "reference_density_kg_m3": ("reference_density", "reference density"),
    "n_initial": ("n_initial", "N initial"),
    "n_design": ("n_design", "N design"),
    "n_maximum": ("n_maximum", "N maximum"),
}


def with_revision(sample: pl.DataFrame, mix_design: pl.DataFrame) -> pl.DataFrame:
    """Add `revision`, `nmas_mm` and the columns of the design to the samples.

    A sample belongs to the latest revision valid on the day it was taken, or else to the first one. Where the mix
    is not in the register the added columns are null.
    """
    columns = ["revision", "nmas_mm", *DESIGN]
    designs = (
        mix_design.select("mix_id", "valid_from", *columns)
        .sort("mix_id", "valid_from", "revision")
        .unique(["mix_id", "valid_from"], keep="last", maintain_order=True)
    )
    dated = (
        sample.sort("taken_on", "sample_id")
        .join_asof(
            designs.sort("valid_from"),
            left_on="taken_on",
            right_on="valid_from",
            by="mix_id",
            strategy="backward",
            check_sortedness=False,
        )
        .drop("valid_from")
    )
    first = designs.unique("mix_id", keep="first", maintain_order=True).drop("valid_from")
    early = pl.col("revision").is_null()
    return (
        dated.join(first, on="mix_id", how="left", suffix="_first")
        .with_columns(
            pl.when(early).then(pl.col(f"{name}_first")).otherwise(pl.col(name)).alias(name) for name in columns
        )
        .drop(f"{name}_first" for name in columns)
        .sort("sample_id")
    )


def blends(samples: pl.DataFrame, stockpile: pl.DataFrame) -> pl.DataFrame:
    """Return the stockpiles of each sample's design: `sample_id`, `stockpile`, `share` in %, `gravity`, sorted."""
    return (
        samples.select("sample_id", "mix_id", "revision")
        .join(stockpile, on=["mix_id", "revision"], how="inner")
        .select("sample_id", "stockpile", share="share_pct", gravity="gsb")
        .sort("sample_id", "stockpile")
    )


def quantities() -> list[pl.Expr]:
    """Return the design's figures as formulas name them, each with the sentence for where it is missing."""
    unknown = pl.format("mix design {} is not in the register", pl.col("mix_id"))
    expressions = []
    for column, (name, symbol) in DESIGN.items():
        absent = pl.format(
            "{} missing in mix design {} revision {}", pl.lit(symbol), pl.col("mix_id"), pl.col("revision")
        )
        why = pl.when(pl.col("revision").is_null()).then(unknown).when(pl.col(column).is_null()).then(absent)
        expressions += [pl.col(column).cast(pl.Float64).alias(name), why.alias(f"{name}__why")]
    return expressions
