"""Load tests: headers -> one row per specimen and method; readings -> one sorted series."""

from dataclasses import dataclass

import polars as pl

from pipeline.settings import Results
from schemas.vocabulary import LOAD_TESTS, Method

_KEYS = ["sample_id", "specimen_no"]
#: Column of the header -> figure as formulas name it; the others go by their name without the unit.
_FIELDS = {
    "specimen_diameter_mm": "specimen_diameter",
    "specimen_thickness_mm": "specimen_thickness",
    "notch_mm": "notch",
    "strip_width_mm": "strip_width",
    "air_voids_stated_pct": "air_voids_stated",
    "rate_mm_per_min": "rate",
    "test_temperature_c": "test_temperature",
    "conditioning": "conditioning",
    "freeze_time_min": "freeze_time",
    "freeze_temperature_c": "freeze_temperature",
    "thaw_time_min": "thaw_time",
    "thaw_temperature_c": "thaw_temperature",
    "soak_time_min": "soak_time",
    "test_delay_s": "test_delay",
    "peak_load_stated_n": "peak_load_stated",
    "flow_stated_mm": "flow_stated",
    "horizontal_pressure_kpa": "horizontal_pressure",
    "displacement_turns": "displacement_turns",
}


@dataclass(frozen=True)
class Loaded:
    """One row per specimen and method; `load_point`: keys, `method`, `reading`, `time`, `displacement`, `load`."""

    specimens: dict[Method, pl.DataFrame]
    series: pl.DataFrame


def build(tests: pl.DataFrame, points: pl.DataFrame, parameters: Results) -> Loaded:
    """Return the headers by method with the settings they are judged by, and the readings in mm, N and s.

    Parameters
    ----------
    tests, points
        Current rows of `load_test` and `load_point`.
    """
    series = points.select(
        *_KEYS,
        "method",
        "reading",
        pl.col("time_s").alias("time"),
        pl.col("displacement_mm").alias("displacement"),
        pl.col("load_n").alias("load"),
    ).sort(*_KEYS, "method", "reading")
    counted = series.group_by(*_KEYS, "method").agg(pl.len().cast(pl.Float64).alias("readings"))
    headers = tests.join(counted, on=[*_KEYS, "method"], how="left").select(
        *_KEYS,
        "method",
        "readings",
        *(pl.col(column).alias(name) for column, name in _FIELDS.items()),
        saturation_low=pl.lit(float(parameters.saturation_low_pct)),
        saturation_high=pl.lit(float(parameters.saturation_high_pct)),
        work_end_load=pl.lit(float(parameters.work_end_load_n)),
        shear_factor=pl.lit(float(parameters.shear_factor)),
    )
    own = {method: headers.filter(pl.col("method") == method.value).drop("method") for method in LOAD_TESTS}
    return Loaded(own, series)
