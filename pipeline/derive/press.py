"""Gyratory compaction: run headers and height series -> figures per specimen and per gyration."""

from dataclasses import dataclass

import polars as pl

_KEYS = ["sample_id", "specimen_no"]
_LEVELS = ("initial", "design", "maximum")


@dataclass(frozen=True)
class Pressed:
    """One row per compacted specimen; one row per specimen and gyration, sorted by key."""

    specimens: pl.DataFrame
    gyrations: pl.DataFrame


def build(runs: pl.DataFrame, heights: pl.DataFrame, samples: pl.DataFrame) -> Pressed:
    """Return heights at the last gyration and at the levels of the mix design, with the run's settings.

    Parameters
    ----------
    runs, heights
        Current rows of `compaction_run` and `compaction_height`.
    samples
        Samples with `n_initial`, `n_design`, `n_maximum` of their mix revision.
    """
    levels = [f"n_{level}" for level in _LEVELS]
    headers = (
        runs.select(
            *_KEYS,
            "gyrations",
            "stop_rule",
            pl.col("pressure_kpa").alias("pressure"),
            pl.col("angle_deg").alias("angle"),
            pl.col("speed_per_min").alias("speed"),
            pl.col("mould_diameter_mm").alias("mould_diameter"),
            pl.col("mass_g").alias("mass_mixture"),
        )
        .join(samples.select("sample_id", *levels), on="sample_id", how="inner")
        .sort(_KEYS)
        .with_row_index("press")
    )
    # One join by name; everything after goes by the number of the run, whose order is that of the keys.
    series = (
        heights.select(*_KEYS, "gyration", pl.col("height_mm").alias("height"))
        .join(headers.select("press", "gyrations", *levels, *_KEYS), on=_KEYS, how="inner")
        .sort("press", "gyration")
    )
    specimens = headers.join(_heights(series), on="press", how="left").with_columns(
        _final(), *(_at_level(level) for level in _LEVELS)
    )
    return Pressed(
        specimens.drop("press", "last", *levels),
        series.select(*_KEYS, "gyration", "height"),
    )


def _heights(series: pl.DataFrame) -> pl.DataFrame:
    same = pl.col("press") == pl.col("press").shift()
    rise = pl.when(same).then(pl.col("height") - pl.col("height").shift())
    at = {"final": "gyrations"} | {f"n_{level}": f"n_{level}" for level in _LEVELS}
    return (
        series.with_columns(rise=rise)
        .group_by("press")
        .agg(
            pl.col("rise").max().alias("height_rise"),
            pl.col("gyration").max().alias("last"),
            *(
                pl.col("height").filter(pl.col("gyration") == pl.col(gyration)).first().alias(f"height_{name}")
                for name, gyration in at.items()
            ),
        )
    )


def _final() -> pl.Expr:
    ends = pl.format(
        "height after the last gyration missing: the run has {} gyrations, the heights end at {}", "gyrations", "last"
    )
    none = pl.lit("heights of the compaction missing")
    why = pl.when(pl.col("last").is_null()).then(none).otherwise(ends)
    return pl.when(pl.col("height_final").is_null()).then(why).alias("height_final__why")


def _at_level(level: str) -> pl.Expr:
    short = pl.format("height at N {} ({}) missing among the heights", pl.lit(level), f"n_{level}")
    # Where the mix design lacks the level, or there are no heights at all, that is the reason.
    none = pl.lit("heights of the compaction missing")
    unstated = pl.lit(f"N {level} missing in the mix design")
    why = (
        pl.when(pl.col(f"n_{level}").is_null())
        .then(unstated)
        .when(pl.col("last").is_null())
        .then(none)
        .otherwise(short)
    )
    return pl.when(pl.col(f"height_n_{level}").is_null()).then(why).alias(f"height_n_{level}__why")
