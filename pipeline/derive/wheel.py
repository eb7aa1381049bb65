"""Wheel tracking: depth series -> the readings around each standard pass."""

from dataclasses import dataclass
from typing import Literal

import polars as pl

from pipeline.formulas.t324 import RUT_DEPTH
from pipeline.settings import Results
from schemas.vocabulary import StopReason

#: How the counted positions become one depth; stored with every result.
REDUCTION = "mean"
_AROUND: dict[str, Literal["backward", "forward"]] = {"before": "backward", "after": "forward"}
_RUN = ["sample_id", "specimen_no", "wheel"]
_KEYS = ["sample_id", "specimen_no"]
_OF_RECORD = ("positions_missing", "first_depth", "first_pass", "pass_gap_ratio", "pass_counter_falls", "rut_fall")
_ENDED = {
    StopReason.PASSES.value: "the set number of passes was reached",
    StopReason.DEPTH.value: "the set depth was reached",
    StopReason.OPERATOR.value: "ended early by hand",
}


@dataclass(frozen=True)
class Tracked:
    """One row per wheel (specimen and wheel in one name); per wheel and standard pass; per wheel and recorded pass."""

    wheels: pl.DataFrame
    passes: pl.DataFrame
    series: pl.DataFrame


def build(runs: pl.DataFrame, depths: pl.DataFrame, parameters: Results) -> Tracked:
    """Return each wheel's readings before and after every standard pass, or why there are none."""
    numbered = runs.with_row_index("run")
    series = _reduced(depths.join(numbered.select("run", *_RUN), on=_RUN, how="inner"), parameters)
    wheels = numbered.join(_ends(series), on="run", how="left")
    named = pl.concat_str("specimen_no", "wheel", separator=" ").alias("specimen_no")
    return Tracked(
        wheels.select(
            "sample_id",
            named,
            pl.col("bath_set_c").alias("bath_set"),
            pl.col("bath_mean_c").alias("bath_mean"),
            pl.col("bath_min_c").alias("bath_lowest"),
            pl.col("bath_max_c").alias("bath_highest"),
            pl.col("soak_time_min").alias("wheel_soak"),
            pl.col("specimen_height_mm").alias("wheel_height"),
            pl.lit(float(parameters.wheel_zeroed)).alias("depth_zeroed"),
            pl.col("wheel_load_n").alias("wheel_load"),
            pl.col("speed_per_min").alias("wheel_rate"),
            pl.col("specimen_air_voids_pct").alias("specimen_voids"),
            pl.lit(parameters.wheel_voids_tolerance_pct).alias("voids_tolerance"),
            pl.lit(parameters.wheel_depth_limit_mm).alias("depth_limit"),
            pl.col("stop_reason").alias("run_stop_reason"),
            pl.col("passes").cast(pl.Float64).alias("passes_recorded"),
            _end_pass().cast(pl.Float64).alias("end_pass"),
            pl.col("last_depth").alias("end_depth"),
            *_OF_RECORD,
        ),
        _around(wheels, series).with_columns(named).drop("wheel"),
        series.join(numbered.select("run", *_RUN), on="run", maintain_order="left")
        .with_columns(named)
        .select(*_KEYS, "wheel_pass", "depth", "recorded"),
    )


def _ends(series: pl.DataFrame) -> pl.DataFrame:
    """Return what the readings of each run show: where they end, and how steadily passes and depths rise."""
    step = pl.col("wheel_pass").diff()
    return series.group_by("run").agg(
        pl.col("wheel_pass").last().alias("last"),
        (pl.col("wheel_pass").last() - pl.col("wheel_pass").get(-2, null_on_oob=True)).alias("step"),
        pl.col("depth").last().alias("last_depth"),
        pl.col("recorded").first().alias("first_depth"),
        pl.col("wheel_pass").first().cast(pl.Float64).alias("first_pass"),
        pl.col("absent").max().alias("positions_missing"),
        (step.max() / step.median()).alias("pass_gap_ratio"),
        (pl.col("wheel_pass").sort_by("source_line", maintain_order=True).diff() < 0)
        .sum()
        .cast(pl.Float64)
        .alias("pass_counter_falls"),
        (pl.col("recorded").cum_max() - pl.col("recorded")).max().alias("rut_fall"),
    )


def _end_pass() -> pl.Expr:
    """Return the pass at which the run ended: the set one where the last reading lies within a step of it."""
    left = pl.col("passes_set") - pl.col("last")
    reached = (pl.col("stop_reason") == StopReason.PASSES.value) & (left >= 0) & (left <= pl.col("step"))
    return pl.when(reached).then("passes_set").otherwise(pl.coalesce("last", "passes"))


def _counted(parameters: Results) -> list[str]:
    return [f"depth_{position:02d}_mm" for position in parameters.wheel_positions]


def counted_depth(parameters: Results) -> pl.Expr:
    """Return the depth that counts at a pass, mm: the mean of the positions the settings name, not zeroed."""
    return pl.mean_horizontal(_counted(parameters))


def _reduced(series: pl.DataFrame, parameters: Results) -> pl.DataFrame:
    columns, depth = _counted(parameters), counted_depth(parameters)
    absent = pl.sum_horizontal(pl.col(column).is_null() for column in columns).cast(pl.Float64)
    reduced = (
        series.select(
            "run",
            pl.col("wheel_pass").cast(pl.Int64),
            "source_line",
            depth.alias("depth"),
            depth.alias("recorded"),
            absent.alias("absent"),
        )
        .drop_nulls("depth")
        .sort("run", "wheel_pass")
    )
    if parameters.wheel_zeroed:
        reduced = reduced.with_columns(pl.col("depth") - pl.col("depth").first().over("run"))
    return reduced


def _around(wheels: pl.DataFrame, series: pl.DataFrame) -> pl.DataFrame:
    places = pl.DataFrame({"wheel_pass": [int(place) for place in RUT_DEPTH.places]}, schema={"wheel_pass": pl.Int64})
    asked = wheels.join(places, how="cross").sort("wheel_pass")
    read = series.select("run", pl.col("wheel_pass").alias("point"), "depth").sort("point")
    for side, strategy in _AROUND.items():
        found = read.rename({"point": f"pass_{side}", "depth": f"depth_{side}"})
        asked = asked.join_asof(
            found,
            left_on="wheel_pass",
            right_on=f"pass_{side}",
            by="run",
            strategy=strategy,
            coalesce=False,
            check_sortedness=False,
        )
    return _ended(asked).select(
        *_KEYS,
        "wheel",
        "wheel_pass",
        pl.col("wheel_pass").cast(pl.Float64).alias("pass_asked"),
        pl.col("pass_before", "pass_after").cast(pl.Float64),
        "depth_before",
        "depth_after",
        "depth_after__why",
        "pass_after__why",
        "reading_short",
    )


def _ended(asked: pl.DataFrame) -> pl.DataFrame:
    """Treat passes the record does not reach: the last reading where the run did, else the reason."""
    reached = (pl.col("passes") >= pl.col("wheel_pass")) | (
        (pl.col("stop_reason") == StopReason.PASSES.value) & (pl.col("passes_set") >= pl.col("wheel_pass"))
    )
    short = pl.col("wheel_pass") - pl.col("last")
    at_end = (reached & (short > 0) & (short <= pl.col("step"))).fill_null(False)
    reason = pl.col("stop_reason").replace_strict(_ENDED, default=None, return_dtype=pl.String)
    told = pl.format(
        "{} wheel: the run ended at pass {}, before pass {}", "wheel", pl.coalesce("last", "passes"), "wheel_pass"
    )
    why = (
        pl.when(pl.col("last").is_null())
        .then(pl.format("{} wheel: no readings of the run", "wheel"))
        .otherwise(pl.when(reason.is_not_null()).then(pl.format("{} ({})", told, reason)).otherwise(told))
    )
    missing = pl.col("pass_after").is_null() & ~at_end
    return asked.with_columns(
        pl.when(at_end).then(pl.col("last")).otherwise(pl.col("pass_after")).alias("pass_after"),
        pl.when(at_end).then(pl.col("last_depth")).otherwise(pl.col("depth_after")).alias("depth_after"),
        pl.when(at_end).then(short).otherwise(pl.lit(0)).cast(pl.Float64).alias("reading_short"),
        *(pl.when(missing).then(why).alias(f"{name}__why") for name in ("depth_after", "pass_after")),
    )
