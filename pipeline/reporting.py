"""A figure as it is reported: the decimals of its property and place, rounded by ASTM E29, as text."""

import polars as pl

from pipeline.formulas import registry
from pipeline.rounding import Rule, round_series

#: Decimals shown of a property the registry no longer knows.
_UNKNOWN = 3


def with_decimals(frame: pl.DataFrame) -> pl.DataFrame:
    """Add `decimals` to rows with `property` and `at`: those of the place, else those of the property."""
    stated = registry.load().decimals()
    everywhere = stated.filter(pl.col("point").is_null()).select("property", everywhere="decimals")
    there = stated.filter(pl.col("point").is_not_null()).rename({"decimals": "there"})
    return (
        frame.join(everywhere, on="property", how="left", maintain_order="left")
        .join(there, on=["property", "point"], how="left", maintain_order="left")
        .with_columns(decimals=pl.coalesce("there", "everywhere", pl.lit(_UNKNOWN)))
        .drop("there", "everywhere")
    )


def as_reported(values: pl.DataFrame, rule: Rule = Rule.HALF_EVEN) -> pl.DataFrame:
    """Return rows with `property`, `at` and `value` with the value rounded as it is reported."""
    stated = with_decimals(values)
    return stated.with_columns(value=round_series(stated["value"], stated["decimals"], rule)).drop("decimals")


def with_text(values: pl.DataFrame, rule: Rule = Rule.HALF_EVEN) -> pl.DataFrame:
    """Add `text` to rows with `property`, `at` and `value`: the value as it is reported; null where there is none."""
    return values.with_columns(text=texts(with_decimals(values), rule))


def texts(stated: pl.DataFrame, rule: Rule = Rule.HALF_EVEN) -> pl.Series:
    """Return the values of rows with `value` and `decimals` as they are reported; null where there is none."""
    rounded = stated.select("decimals", shown=round_series(stated["value"], stated["decimals"], rule))
    text = pl.lit(None, pl.String)
    for decimals in rounded["decimals"].unique().sort():
        fixed = pl.col("shown").cast(pl.Decimal(38, decimals)).cast(pl.String)
        text = pl.when(pl.col("decimals") == decimals).then(fixed).otherwise(text)
    return rounded.with_columns(text=text)["text"]
