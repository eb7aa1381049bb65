"""Wide tables of figures -> rows of `property_value` and of the densification series."""

from collections.abc import Iterator
from functools import cache

import polars as pl

from pipeline.derive.engine import Frames
from pipeline.formulas.model import Grain
from pipeline.formulas.registry import MASK, Node, Registry, version
from schemas.describe import describe
from schemas.vocabulary import Level


@cache
def without_validity(record: str) -> dict[str, pl.DataType]:
    """Return the columns of a result, without the runs between which it holds."""
    return {name: dtype for name, dtype in describe(record).schema().items() if not name.startswith("valid_")}


def property_values(frames: Frames, registry: Registry) -> pl.DataFrame:
    """Return every figure, and every reason why there is none, as rows in a fixed order."""
    schema = without_validity("property_value")
    found = [
        _rows(frames[node.table], node)
        for node in registry.nodes.values()
        if node.table[0] is not Grain.SPECIMEN_GYRATION and _any(frames[node.table], node.property.name)
    ]
    if not found:
        return pl.DataFrame(schema=schema)
    rows = pl.concat(found, how="vertical_relaxed")
    # Where there is no figure only the checks that withheld it count, not those it would have failed.
    withholding = sum({registry.bits[check.code] for check in registry.checks() if check.effect == "withhold"})
    flags = rows.select(
        pl.when(pl.col("value").is_null()).then(pl.col("flags") & pl.lit(withholding, MASK)).otherwise("flags")
    )
    return (
        rows.with_columns(flags=_decoded(flags.to_series(), registry.bits))
        .select(pl.col(name).cast(dtype) for name, dtype in schema.items())
        .sort("sample_id", "level", "method", "specimen_no", "property", "point")
    )


def densification(frames: Frames) -> pl.DataFrame:
    """Return corrected density and %Gmm at each gyration, for specimens with a Gmb."""
    schema = without_validity("densification")
    return (
        next(_curves(frames))
        .filter(pl.col("gmb_corrected").is_not_null())
        .select(pl.col(name).cast(dtype) for name, dtype in schema.items())
    )


def _curves(frames: Frames) -> Iterator[pl.DataFrame]:
    for (grain, _), frame in frames.items():
        if grain is Grain.SPECIMEN_GYRATION:
            yield frame.rename({"relative_density": "gmm_pct"})


def _any(frame: pl.DataFrame, name: str) -> bool:
    return any(frame[column].null_count() < frame.height for column in (name, f"{name}__why"))


def _rows(frame: pl.DataFrame, node: Node) -> pl.DataFrame:
    grain, name = node.table[0], node.property.name
    specimen = grain.level is Level.SPECIMEN
    methods = {route.route: route.method.value if route.method else None for route in node.routes}
    versions = {route.route: version(route) for route in node.routes}
    route = pl.col(f"{name}__route")
    none = pl.lit(None, pl.String)
    return frame.filter(pl.col(name).is_not_null() | pl.col(f"{name}__why").is_not_null()).select(
        "sample_id",
        pl.lit(grain.level.value).alias("level"),
        (route.replace_strict(methods, return_dtype=pl.String) if specimen else none).alias("method"),
        (pl.col("specimen_no") if specimen else none).alias("specimen_no"),
        pl.lit(name).alias("property"),
        (pl.col(grain.at).cast(pl.Float64) if grain.at else pl.lit(None, pl.Float64)).alias("point"),
        pl.col(name).cast(pl.Float64).alias("value"),
        pl.col(f"{name}__why").cast(pl.String).alias("withheld"),
        route.cast(pl.String).alias("route"),
        route.replace_strict(versions, return_dtype=pl.String).alias("formula_version"),
        pl.col(f"{name}__flags").cast(MASK).alias("flags"),
        pl.col(f"{name}__n").cast(pl.Int64).alias("n"),
        pl.col(f"{name}__spread").cast(pl.Float64).alias("spread"),
        (pl.col(f"{name}__u") if f"{name}__u" in frame.columns else pl.lit(None, pl.Float64)).alias("uncertainty"),
        pl.col(f"{name}__parameters").cast(pl.String).alias("parameters"),
    )


def _decoded(masks: pl.Series, bits: dict[str, int]) -> pl.Series:
    """Turn masks into codes separated by spaces, sorted; few different masks ever occur."""
    words = {
        value: " ".join(sorted(code for code, bit in bits.items() if value & bit)) or None
        for value in masks.drop_nulls().unique().to_list()
    }
    return masks.replace_strict(words, default=None, return_dtype=pl.String)
