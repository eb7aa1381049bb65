"""Impact and kneading compaction: run headers and height series -> figures per specimen and per step."""

from dataclasses import dataclass

import polars as pl

from schemas.vocabulary import STEPPED, Method

_KEYS = ["sample_id", "specimen_no"]


@dataclass(frozen=True)
class Stepped:
    """By method: one row per specimen; one row per specimen and step, sorted by key."""

    specimens: dict[Method, pl.DataFrame]
    steps: dict[Method, pl.DataFrame]


def build(runs: pl.DataFrame, heights: pl.DataFrame) -> Stepped:
    """Return height after the last step, largest rise, and the settings of each run.

    Parameters
    ----------
    runs, heights
        Current rows of `impact_run` and `impact_height`.
    """
    own = [*_KEYS, "method"]
    series = heights.select(*own, "step", pl.col("height_mm").alias("height_step")).sort(*own, "step")
    ends = series.group_by(own, maintain_order=True).agg(
        pl.col("height_step").last().alias("last_height"),
        pl.col("step").last().alias("last_step"),
        pl.col("height_step").diff().max().alias("step_rise"),
    )
    ended = pl.col("last_step") == pl.col("steps")
    short = pl.format("height after step {} missing: the heights end at {}", "steps", "last_step")
    why = pl.when(pl.col("last_step").is_null()).then(pl.lit("heights of the compaction missing")).otherwise(short)
    headers = runs.join(ends, on=own, how="left", maintain_order="left").select(
        *own,
        pl.col("steps").cast(pl.Float64),
        pl.when(ended).then("last_height").alias("step_height_final"),
        pl.when(~ended.fill_null(False)).then(why).alias("step_height_final__why"),
        "step_rise",
        pl.col("hammer_mass_g").alias("hammer_mass"),
        pl.col("drop_mm").alias("drop"),
        pl.col("mass_g").alias("step_mass"),
        pl.col("mould_diameter_mm").alias("step_mould"),
    )
    known = series.join(headers.select(own), on=own, how="semi", maintain_order="left")
    return Stepped(*({method: _of(frame, method) for method in STEPPED} for frame in (headers, known)))


def _of(frame: pl.DataFrame, method: Method) -> pl.DataFrame:
    return frame.filter(pl.col("method") == method.value).drop("method")
