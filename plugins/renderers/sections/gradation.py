"""Gradation of a mix on the 0.45-power chart: design and phases, maximum density line, control points, tolerance."""

import polars as pl

from plugins.renderers.charts.curve import curves, legends
from plugins.renderers.charts.frame import Axis
from plugins.renderers.verbs.results import Tables
from plugins.renderers.verbs.shell import tables_of
from plugins.renderers.verbs.tables import take

#: Properties by sieve, which stand with the chart.
PROPERTIES = ("passing",)
#: Exponent of the axis of openings (Fuller curve as used in AASHTO R 35 and M 323; common practice).
POWER = 0.45
#: Ends of the axis of openings, mm: the smallest that holds the mix is taken, so that charts compare.
_ENDS = (12.5, 19.0, 25.0, 37.5, 50.0, 125.0)
#: Openings with a label, as far as they fit.
_TICKS = (0.075, 0.3, 0.6, 1.18, 2.36, 4.75, 9.5, 12.5, 19.0, 25.0, 37.5, 50.0, 75.0, 125.0)
_SERIES = {"target": "design", "verification": "verification", "startup": "start-up", "production": "production mean"}
_COLUMNS = {
    "Sieve, mm": "<b>{sieve}</b>",
    "Design": "{target_text}",
    "Verification": "{verification_text}",
    "Start-up": "{startup_text}",
    "Production": "<strong>{production_text}</strong>{s_html}",
    "less design": "{production_less_target_text}",
}
_Keyed = dict[tuple[str, int], str]


def _axes(end: float) -> tuple[Axis, Axis]:
    least = 0.6 if end <= 25 else 1.18
    ticks = tuple(tick for tick in _TICKS if tick <= end and not 0.3 < tick < least)
    steps = (0.0, 20.0, 40.0, 60.0, 80.0, 100.0)
    return Axis(0, end, ticks, "sieve opening, mm, to the power 0.45", power=POWER), Axis(0, 100, steps, "passing, %")


def _owner() -> pl.Expr:
    # Mix names may hold anything: the number goes first, so that no two keys collide.
    return pl.concat_str(pl.col("revision").cast(pl.String), pl.lit(" "), "mix_id").alias("owner")


def _points(tables: Tables, phases: pl.DataFrame) -> pl.DataFrame:
    """Return owner, series, x, y: the design with all its sieves, and the means of the phases."""
    design = take(tables, "mix_gradation").select(
        _owner(), pl.lit("design").alias("series"), pl.col("sieve_mm").alias("x"), pl.col("passing_pct").alias("y")
    )
    passing = phases.filter(pl.col("property") == "passing").select(_owner(), pl.col("point").alias("x"), *_SERIES)
    means = (
        passing.drop("target")
        .unpivot(index=["owner", "x"], variable_name="series", value_name="y")
        .with_columns(pl.col("series").replace(_SERIES))
        .select("owner", "series", "x", "y")
    )
    return pl.concat([design, means]).drop_nulls().filter(pl.col("x") > 0).unique(
        ["owner", "series", "x"], keep="first", maintain_order=True
    )  # fmt: skip


def sections(tables: Tables, phases: pl.DataFrame) -> tuple[_Keyed, _Keyed, _Keyed]:
    """Return, by mix and revision, chart, legend and table of the sieves.

    Parameters
    ----------
    tables
        The tables handed in.
    phases
        `mix_phases` with names and figures as text.
    """
    phases = phases.drop_nulls("revision")
    points = _points(tables, phases)
    bands = take(tables, "mix_bands").with_columns(_owner(), pl.col("sieve_mm").alias("x"))
    fixed_ones = bands.filter(pl.col("basis") == "absolute")
    marks = pl.concat(
        [fixed_ones.select("owner", "x", pl.col(side).alias("y")) for side in ("lower", "upper")]
    ).drop_nulls()
    tolerance = bands.filter(pl.col("basis") == "from_target").select("owner", "x", "lower", "upper")
    largest = take(tables, "mixes").drop_nulls("maximum_size_mm").with_columns(_owner())
    # Straight on these axes: from nothing at no opening to all at the maximum size.
    guides = [
        largest.select("owner", pl.lit(0.0).alias("x"), pl.lit(0.0).alias("y")),
        largest.select("owner", pl.col("maximum_size_mm").alias("x"), pl.lit(100.0).alias("y")),
    ]
    drawn, told = chart(points, marks, tolerance, pl.concat(guides))
    return _keyed(drawn), _keyed(told), _tables(phases)


def chart(
    points: pl.DataFrame, marks: pl.DataFrame, tolerance: pl.DataFrame, guides: pl.DataFrame
) -> tuple[dict[str, str], dict[str, str]]:
    """Return owner -> chart and owner -> legend; the frames are those of `charts.curve.curves`, x in mm."""
    reach = pl.col("x").max().over("owner")
    end = pl.lit(_ENDS[-1])
    for size in reversed(_ENDS[:-1]):
        end = pl.when(reach <= size).then(pl.lit(size)).otherwise(end)
    drawn = curves(points.with_columns(end.alias("size")), marks, _axes, "size", tolerance, guides)
    return drawn, legends(points, pl.col("series"))


def _keyed(made: dict[str, str]) -> _Keyed:
    split = (owner.partition(" ") for owner in made)
    return {(mix, int(revision)): made[f"{revision} {mix}"] for revision, _, mix in split}


def _tables(phases: pl.DataFrame) -> _Keyed:
    rows = phases.filter(pl.col("property") == "passing").with_columns(
        pl.col("at_text").str.strip_suffix(" mm").alias("sieve")
    )
    made = tables_of(rows.sort("mix_id", "revision", "point", descending=[False, False, True]), ["mix_id", "revision"],
                     _COLUMNS, "cards spec")  # fmt: skip
    return {(mix, revision): table for mix, revision, table in made.iter_rows()}
