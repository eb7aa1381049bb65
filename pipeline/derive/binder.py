"""Burns and weighings on the way to constant mass -> figures per test portion."""

import polars as pl

from schemas.vocabulary import Method, Purpose

_KEYS = ["sample_id", "specimen_no"]
#: Calibrations set this much above the coolest ones of their sample were repeated there, and no longer count.
_REPEATED = 20.0


def burns(records: pl.DataFrame) -> pl.DataFrame:
    """Return how each portion was burnt, and whether a calibration was repeated at a lower temperature."""
    calibrated = pl.col("purpose") == Purpose.CALIBRATION.value
    coolest = pl.col("furnace_set_c").filter(calibrated).min().over("sample_id")
    return records.select(
        *_KEYS,
        pl.col("purpose").alias("burn_purpose"),
        pl.col("pb_known_pct").alias("pb_known"),
        pl.col("furnace_set_c").alias("furnace_set"),
        pl.col("end_change_pct").alias("end_change"),
        (calibrated & (pl.col("furnace_set_c") > coolest + _REPEATED)).fill_null(False).alias("burn_repeated"),
    )


def dried(records: pl.DataFrame) -> pl.DataFrame:
    """Return the last two masses of each series of the moisture test, its times, and the range of the oven."""
    last = {"oven_container_dried": -1, "oven_container_dried_before": -2}
    return (
        records.filter(pl.col("method") == Method.T329.value)
        .sort(*_KEYS, "reading")
        .group_by(_KEYS, maintain_order=True)
        .agg(
            *(pl.col("mass_g").get(at, null_on_oob=True).alias(f"mass_{name}") for name, at in last.items()),
            pl.col("dried_min").first().alias("drying_first"),
            pl.col("oven_temperature_c").min().alias("oven_coolest"),
            pl.col("oven_temperature_c").max().alias("oven_hottest"),
        )
    )
