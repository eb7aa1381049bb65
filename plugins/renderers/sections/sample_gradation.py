"""Gradation of one sample on the 0.45-power chart: against the design, its control points and its tolerance."""

import polars as pl

from plugins.renderers.sections.gradation import PROPERTIES, chart
from plugins.renderers.sections.model import Model
from plugins.renderers.verbs.tables import take, within
from plugins.renderers.verbs.words import word


def sample_gradations(parts: Model, scope: frozenset[str] | None) -> tuple[dict[str, str], dict[str, str]]:
    """Return sample -> chart and sample -> legend, for samples with a gradation."""
    sieved = within(parts.results, "sample_id", scope).filter(pl.col("property").is_in(PROPERTIES))
    points = sieved.select(
        pl.col("sample_id").alias("owner"), pl.lit(word("chart.sample")).alias("series"), x="point", y="value"
    ).drop_nulls()
    designed = parts.samples.select("sample_id", "mix_id", pl.col("revision").cast(pl.Int64, strict=False))
    designed = designed.join(points.select(sample_id="owner").unique(), on="sample_id", how="semi")
    target = designed.join(take(parts.tables, "mix_gradation"), on=["mix_id", "revision"], how="inner").select(
        pl.col("sample_id").alias("owner"), pl.lit(word("chart.design")).alias("series"), x="sieve_mm", y="passing_pct"
    )
    held = within(parts.judged, "sample_id", scope).filter(pl.col("property").is_in(PROPERTIES))
    bands = held.select(pl.col("sample_id").alias("owner"), pl.col("point").alias("x"), "lower", "upper").drop_nulls(
        "x"
    )
    largest = designed.join(
        take(parts.tables, "mixes").select("mix_id", "revision", "maximum_size_mm").unique(["mix_id", "revision"]),
        on=["mix_id", "revision"],
    ).drop_nulls("maximum_size_mm")
    # Straight on these axes: from nothing at no opening to all at the maximum size.
    guides = [
        largest.select(pl.col("sample_id").alias("owner"), x=pl.lit(0.0), y=pl.lit(0.0)),
        largest.select(pl.col("sample_id").alias("owner"), x="maximum_size_mm", y=pl.lit(100.0)),
    ]
    drawn = pl.concat([target, points]).filter(pl.col("x") > 0).unique(maintain_order=True)
    none = pl.DataFrame(schema={"owner": pl.String(), "x": pl.Float64(), "y": pl.Float64()})
    return chart(drawn, none, bands, pl.concat(guides))
