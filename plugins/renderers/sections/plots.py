"""Plots of a sample: density against gyrations, rut depth against passes."""

import polars as pl

from plugins.renderers.charts.curve import curves, legends
from plugins.renderers.charts.frame import Axis
from plugins.renderers.sections.model import Model
from plugins.renderers.verbs.figures import fixed
from plugins.renderers.verbs.markup import clipped
from plugins.renderers.verbs.presentation import length_unit
from plugins.renderers.verbs.tables import take, within
from plugins.renderers.verbs.verdicts import verdict_words
from plugins.renderers.verbs.words import filled, word
from schemas.units import conversion

#: Ends of the axes a plot may have: the smallest that holds the owner's data is taken, so that plots compare.
_GYRATIONS = (200.0, 500.0)
_LOWEST_DENSITY = (80.0, 70.0, 50.0, 0.0)
#: Steps of the density axis that give round numbers, by its lowest end.
_DENSITY_STEPS = {80.0: 4, 70.0: 6, 50.0: 5, 0.0: 5}
#: Largest depths of the depth axis by unit of length.
_DEPTHS = {"mm": (15.0, 25.0, 50.0, 200.0), "in": (0.5, 1.0, 2.0, 8.0)}
_PASSES = (10000.0, 20000.0, 40000.0, 100000.0, 1000000.0)

_Axes = tuple[Axis, Axis]


def _smallest(value: pl.Expr, ends: tuple[float, ...], below: bool = False) -> pl.Expr:
    """Return the first of the ends that holds the value, else the last."""
    chosen = pl.lit(ends[-1])
    for end in reversed(ends[:-1]):
        chosen = pl.when(value >= end if below else value <= end).then(pl.lit(end)).otherwise(chosen)
    return chosen


def _most(column: str, other: pl.Expr | None) -> pl.Expr:
    return pl.col(column) if other is None else pl.max_horizontal(column, other)


def _steps(start: float, end: float, count: int) -> tuple[float, ...]:
    step = (end - start) / count
    return tuple(start + step * place for place in range(count + 1))


def count(value: pl.Expr) -> pl.Expr:
    """Return whole numbers with a narrow space between thousands."""
    return fixed(value, pl.lit(0)).str.replace(r"(\d)(\d{3})$", "${1}\u202f${2}")


def _line_name(name: str, column: str) -> pl.Expr:
    return filled(name, no=clipped(pl.col(column).fill_null(word("text.none")), 40))


def density_size(farthest: pl.Expr | None = None) -> pl.Expr:
    """Return the size class of each owner's plot of density, of columns owner, x in gyrations and y in % of Gmm.

    `farthest` is what the axis of gyrations has to hold besides x.
    """
    reach = _smallest(_most("x", farthest).max().over("owner"), _GYRATIONS)
    lowest = _smallest(pl.col("y").min().over("owner"), _LOWEST_DENSITY, below=True)
    return (reach * 1000 + lowest).alias("size")


def density_axes(size: float) -> _Axes:
    """Return the axes of a size class of `density_size`."""
    reach, lowest = divmod(size, 1000)
    ticks = tuple(tick for tick in (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0) if tick <= reach)
    return Axis(1, reach, ticks, word("axis.gyrations"), log=True), Axis(
        lowest, 100, _steps(lowest, 100, _DENSITY_STEPS[lowest]), word("axis.density")
    )


def rut_size(farthest: pl.Expr | None = None, deepest: pl.Expr | None = None) -> pl.Expr:
    """Return the size class of each owner's plot of rut depth, of columns owner, x in passes and y in `length_unit`.

    `farthest` and `deepest` are what the axes have to hold besides x and y.
    """
    reach = _smallest(_most("x", farthest).max().over("owner"), _PASSES)
    deep = _smallest(_most("y", deepest).max().over("owner"), _DEPTHS[length_unit()])
    return (reach * 1000 + deep).alias("size")


def rut_axes(size: float) -> _Axes:
    """Return the axes of a size class of `rut_size`; depth runs downwards."""
    reach, deepest = divmod(size, 1000)
    depth = Axis(deepest, 0, _steps(0, deepest, 5), word("axis.depth", unit=length_unit()))
    return Axis(0, reach, _steps(0, reach, 4), word("axis.passes")), depth


def densification(parts: Model, scope: frozenset[str] | None) -> tuple[dict[str, str], dict[str, str]]:
    """Return sample -> plot and sample -> legend of %Gmm against gyrations, on a logarithmic axis."""
    rows = within(take(parts.tables, "densification"), "sample_id", scope)
    points = (
        rows.filter((pl.col("gyration") >= 1) & pl.col("gmm_pct").is_finite())
        .select(
            pl.col("sample_id").alias("owner"),
            _line_name("plot.specimen", "specimen_no").alias("series"),
            pl.col("gyration").cast(pl.Float64).alias("x"),
            pl.col("gmm_pct").alias("y"),
        )
        .with_columns(density_size())
    )
    text = filled(
        "plot.density_end", series=pl.col("series"), y=fixed(pl.col("y"), pl.lit(1)), x=fixed(pl.col("x"), pl.lit(0))
    )
    return curves(points, _no_marks(), density_axes, "size"), legends(points, text)


def _no_marks() -> pl.DataFrame:
    return pl.DataFrame(schema={"owner": pl.String(), "x": pl.Float64(), "y": pl.Float64()})


def rutting(parts: Model, scope: frozenset[str] | None) -> tuple[dict[str, str], dict[str, str]]:
    """Return sample -> plot and sample -> legend of rut depth against passes, both wheels, depth downwards."""
    rows = within(take(parts.tables, "rut"), "sample_id", scope)
    unit = length_unit()
    factor, _ = conversion("mm", unit)
    wheel = filled("plot.wheel", side=clipped(pl.col("wheel").fill_null(word("text.none")), 20))
    several = pl.col("specimen_no").n_unique().over("sample_id") > 1
    test = pl.when(several).then(_line_name("plot.test", "specimen_no"))
    points = (
        rows.filter(pl.col("depth_mm").is_finite() & pl.col("wheel_pass").is_not_null())
        .select(
            pl.col("sample_id").alias("owner"),
            pl.concat_str(wheel, test, separator=", ", ignore_nulls=True).alias("series"),
            pl.col("wheel_pass").cast(pl.Float64).alias("x"),
            (pl.col("depth_mm").abs() * factor).alias("y"),
        )
        .with_columns(rut_size())
    )
    limits = parts.judged.filter(pl.col("property").str.starts_with("rut") & pl.col("upper").is_not_null())
    marks = limits.select(
        pl.col("sample_id").alias("owner"), pl.col("point").alias("x"), pl.col("upper").alias("y"),
        "limit", verdict_words().alias("verdict"),
    ).drop_nulls(["owner", "x", "y"])  # fmt: skip
    held = marks.select("owner", filled(
        "plot.limit", limit=pl.col("limit"), unit=pl.lit(unit), x=count(pl.col("x")),
        verdict=pl.col("verdict").fill_null(word("verdict.not_judged")),
    ).alias("said"))  # fmt: skip
    depth = fixed(pl.col("y"), pl.lit(1 if unit == "mm" else 2))
    text = filled("plot.depth_end", series=pl.col("series"), y=depth, unit=pl.lit(unit), x=count(pl.col("x")))
    drawn = curves(points, marks.select("owner", "x", "y"), rut_axes, "size", held=held)
    return drawn, legends(points, text)
