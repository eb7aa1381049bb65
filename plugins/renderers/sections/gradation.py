"""Gradation of a mix on the 0.45-power chart: design and phases, maximum density line, control points, tolerance."""

import polars as pl

from plugins.renderers.charts.curve import curves, legends
from plugins.renderers.charts.frame import Axis
from plugins.renderers.verbs.presentation import sieve_name
from plugins.renderers.verbs.results import Tables
from plugins.renderers.verbs.shell import tables_of
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.words import filled, word

#: Properties by sieve, which stand with the chart.
PROPERTIES = ("passing",)
#: Exponent of the axis of openings (Fuller curve as used in AASHTO R 35 and M 323; common practice).
POWER = 0.45
#: Ends of the axis of openings, mm: the smallest that holds the mix is taken, so that charts compare.
_ENDS = (12.5, 19.0, 25.0, 37.5, 50.0, 125.0)
#: Openings with a label, as far as they fit.
_TICKS = (0.075, 0.3, 0.6, 1.18, 2.36, 4.75, 9.5, 12.5, 19.0, 25.0, 37.5, 50.0, 75.0, 125.0)
#: Column of the means of a phase -> text that names its curve.
_SERIES = {
    "target": "chart.design",
    "verification": "phase.verification",
    "startup": "phase.startup",
    "production": "gradation.production",
}
_Keyed = dict[tuple[str, int], str]


def _axes(end: float) -> tuple[Axis, Axis]:
    least = 0.6 if end <= 25 else 1.18
    ticks = tuple(tick for tick in _TICKS if tick <= end and not 0.3 < tick < least)
    names = tuple((opening, name) for opening in _TICKS if (name := sieve_name(opening)))
    title = word("gradation.sieves" if names else "gradation.openings")
    steps = (0.0, 20.0, 40.0, 60.0, 80.0, 100.0)
    return Axis(0, end, ticks, title, power=POWER, names=names), Axis(0, 100, steps, word("gradation.passing"))


def _owner() -> pl.Expr:
    # Mix names may hold anything: the number goes first, so that no two keys collide.
    return pl.concat_str(pl.col("revision").cast(pl.String), pl.lit(" "), "mix_id").alias("owner")


def _points(tables: Tables, phases: pl.DataFrame) -> pl.DataFrame:
    """Return owner, series, x, y: the design with all its sieves, and the means of the phases."""
    named = {name: word(said) for name, said in _SERIES.items()}
    design = take(tables, "mix_gradation").select(
        _owner(), pl.lit(named["target"]).alias("series"), pl.col("sieve_mm").alias("x"),
        pl.col("passing_pct").alias("y"),
    )  # fmt: skip
    passing = phases.filter(pl.col("property") == "passing").select(_owner(), pl.col("point").alias("x"), *_SERIES)
    means = (
        passing.drop("target")
        .unpivot(index=["owner", "x"], variable_name="series", value_name="y")
        .with_columns(pl.col("series").replace(named))
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
    limits = bands.select("owner", "x", "lower", "upper")
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
    drawn, told = chart(points, marks, tolerance, pl.concat(guides), limits)
    return _keyed(drawn), _keyed(told), _tables(phases)


def chart(
    points: pl.DataFrame,
    marks: pl.DataFrame,
    tolerance: pl.DataFrame,
    guides: pl.DataFrame,
    limits: pl.DataFrame | None = None,
) -> tuple[dict[str, str], dict[str, str]]:
    """Return owner -> chart and owner -> legend.

    Parameters
    ----------
    points, marks, tolerance, guides
        As `charts.curve.curves` takes them, x in mm.
    limits
        Columns owner, x, lower, upper: what is said of the curves; by default `tolerance`.
    """
    held = _held(points, tolerance if limits is None else limits)
    reach = pl.col("x").max().over("owner")
    end = pl.lit(_ENDS[-1])
    for size in reversed(_ENDS[:-1]):
        end = pl.when(reach <= size).then(pl.lit(size)).otherwise(end)
    drawn = curves(points.with_columns(end.alias("size")), marks, _axes, "size", tolerance, guides, held)
    return drawn, legends(points, pl.col("series"))


def _held(points: pl.DataFrame, limits: pl.DataFrame) -> pl.DataFrame:
    """Return columns owner and said: at how many of the sieves with limits each curve lies within, as it is drawn."""
    inside = (pl.col("y") >= pl.col("lower")).fill_null(True) & (pl.col("y") <= pl.col("upper")).fill_null(True)
    sieves = points.join(limits, on=["owner", "x"], how="inner").group_by("owner", "series", "x").agg(
        inside.all().alias("inside")
    )  # fmt: skip
    counts = sieves.sort("owner", "series").group_by("owner", "series", maintain_order=True).agg(
        pl.col("inside").sum().alias("n"), pl.len().alias("all")
    )  # fmt: skip
    gaps = {name: pl.col(name) for name in ("series", "n", "all")}
    return counts.select("owner", filled("gradation.held", **gaps).alias("said"))


def _keyed(made: dict[str, str]) -> _Keyed:
    split = (owner.partition(" ") for owner in made)
    return {(mix, int(revision)): made[f"{revision} {mix}"] for revision, _, mix in split}


def _tables(phases: pl.DataFrame) -> _Keyed:
    names = {opening: name for opening in phases["point"].drop_nulls().unique() if (name := sieve_name(opening))}
    # Beside designations an opening that has none is told with its unit.
    plain_ones = pl.col("at_text") if names else pl.col("at_text").str.strip_suffix(" mm")
    rows = phases.filter(pl.col("property") == "passing").with_columns(plain_ones.alias("sieve"))
    columns = {
        word("gradation.sieve" if names else "gradation.sieve_mm"): "<b>{sieve}</b>",
        word("mix.design"): "{target_text}",
        word("mix.verification"): "{verification_text}",
        word("mix.startup"): "{startup_text}",
        word("mix.production"): "<strong>{production_text}</strong>{s_html}",
        word("mix.less_design"): "{production_less_target_text}",
    }
    ordered = rows.sort("mix_id", "revision", "point", descending=[False, False, True])
    made = tables_of(ordered, ["mix_id", "revision"], columns, "spec tight")
    return {(mix, revision): table for mix, revision, table in made.iter_rows()}
