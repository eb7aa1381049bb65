"""Curves of a mix: rut depth of all its wheel tests, and densification of all its samples, each in one plot."""

import polars as pl

from plugins.renderers.charts.bundle import bundles
from plugins.renderers.sections import plots
from plugins.renderers.verbs.figures import fixed
from plugins.renderers.verbs.markup import clipped, fill, gathered
from plugins.renderers.verbs.presentation import day, length_unit
from plugins.renderers.verbs.results import Tables
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.words import filled, word
from schemas.units import conversion

#: What a curve is told apart by -> style of the line (`style.css`: s0 …).
_VERDICTS = {"pass": 0, "fail": 1, None: 3}
_PHASES = {"production": 0, "verification": 1, "startup": 2, None: 3}


def _linked(rows: pl.DataFrame, samples: pl.DataFrame) -> pl.DataFrame:
    """Add owner, series, href and label of the curve; the rows of one curve stay in their order."""
    joined = rows.drop_nulls(["mix_id", "sample_id"]).join(
        samples.select("sample_id", "slug"), on="sample_id", how="left", maintain_order="left"
    )
    href = pl.when(pl.col("slug").is_not_null()).then(pl.format("../sample/{}.html", "slug"))
    label = pl.concat_str(clipped(pl.col("sample_id"), 60), day(pl.col("taken_on")), separator=", ", ignore_nulls=True)
    return joined.with_columns(
        pl.col("mix_id").alias("owner"), pl.col("sample_id").alias("series"), href.alias("href"), label.alias("label")
    )


def _styled(column: str, styles: dict[str | None, int]) -> pl.Expr:
    known = {name: style for name, style in styles.items() if name is not None}
    return pl.col(column).replace_strict(known, default=styles[None], return_dtype=pl.Int64).alias("style")


def _legends(points: pl.DataFrame, styles: dict[str | None, int], group: str) -> pl.DataFrame:
    """Return owner and legend_html: the kinds of curves there are, each with its line."""
    words = {style: word(f"{group}.{name or 'other'}") for name, style in styles.items()}
    kinds = points.select("owner", "style").unique().sort("owner", "style")
    entry = fill(
        '<li><svg viewBox="0 0 28 8" width="28" height="8" aria-hidden="true"><path class="curve s{style}" '
        'd="M1 4h26"/></svg> {said}</li>',
        said=pl.col("style").replace_strict(words, return_dtype=pl.String),
    )
    made = gathered(kinds.select("owner", entry.alias("legend_html")), ["owner"], "legend_html")
    return made.with_columns(pl.format('<ul class="legend">{}</ul>', "legend_html").alias("legend_html"))


def _figures(
    drawn: dict[str, str], heading: str, legend: pl.DataFrame, notes: pl.DataFrame, none: str
) -> dict[str, str]:
    """Return owner -> figure; notes: columns owner and note, one row per line under the plot."""
    plot = pl.DataFrame(
        {"owner": list(drawn), "plot_html": list(drawn.values())}, {"owner": pl.String, "plot_html": pl.String}
    )
    line = notes.select("owner", fill('<p class="small">{note}</p>').alias("note_html"))
    rows = plot.join(legend, on="owner", how="left", maintain_order="left").join(
        gathered(line, ["owner"], "note_html"), on="owner", how="left", maintain_order="left"
    )
    bare = fill('<p class="small">{none}</p>', none=pl.lit(none))
    figure = fill(
        "<figure><h3>{heading}</h3>{plot_html}{legend_html}{notes_html}</figure>",
        heading=pl.lit(heading),
        notes_html=pl.coalesce("note_html", bare),
    )
    return dict(rows.select("owner", figure.alias("figure_html")).iter_rows())


def _holding(points: pl.DataFrame, marks: pl.DataFrame) -> pl.DataFrame:
    """Add how far the marks of an owner reach, which its plot has to hold: columns far and deep."""
    reach = marks.group_by("owner").agg(pl.col("x").max().alias("far"), pl.col("y").max().alias("deep"))
    return points.join(reach, on="owner", how="left", maintain_order="left")


def rutting(tables: Tables, samples: pl.DataFrame) -> dict[str, str]:
    """Return mix -> figure of rut depth against passes of all its wheel tests, with what the binder grade requires."""
    unit, places = length_unit(), pl.lit(1 if length_unit() == "mm" else 2)
    factor, _ = conversion("mm", unit)
    rows = _linked(take(tables, "mix_rut"), samples).filter(pl.col("depth_mm").is_finite())
    points = rows.select(
        "owner", "series", "href", "label", _styled("verdict", _VERDICTS),
        pl.col("wheel_pass").cast(pl.Float64).alias("x"), (pl.col("depth_mm").abs() * factor).alias("y"),
    ).drop_nulls("x")  # fmt: skip
    last = pl.format(
        word("mix_page.rut_end"), "label", fixed(pl.col("y").last().over("owner", "series"), places), pl.lit(unit),
        plots.count(pl.col("x").last().over("owner", "series")),
    )  # fmt: skip
    limits = take(tables, "mix_rut_limits").drop_nulls(["mix_id", "passes", "depth_mm"])
    grade = clipped(pl.col("binder_grade").fill_null(word("text.none")), 24)
    marks = limits.select(
        pl.col("mix_id").alias("owner"), pl.col("passes").alias("x"), (pl.col("depth_mm") * factor).alias("y"),
        grade.alias("label"), clipped(pl.col("source").fill_null(word("text.none")), 200).alias("source"),
    )  # fmt: skip
    # A converted limit is seldom round: it is shown with two decimals more, as everywhere.
    exact = pl.lit(1 if length_unit() == "mm" else 4)
    note = pl.format(
        word("mix_page.rut_limit"), "label", fixed(pl.col("y"), exact), pl.lit(unit), plots.count(pl.col("x")),
        "source",
    )  # fmt: skip
    points = _holding(points, marks).with_columns(last.alias("told"), plots.rut_size(pl.col("far"), pl.col("deep")))
    reach = {name: fixed(pl.col(name), places) for name in ("least", "most")}
    ends = filled("mix.rut_ends", **reach, unit=pl.lit(unit), failed=pl.col("failed"), n=pl.col("n"))
    about = _about(points, "mix_page.rut_title", "mix_page.rut_about", ends)
    drawn = bundles(points, marks.drop("source"), about, plots.rut_axes)
    return _figures(drawn, word("chart.rut"), _legends(points, _VERDICTS, "wheel"), marks.select(
        "owner", note.alias("note")), word("mix_page.no_rut_limit"))  # fmt: skip


def densification(tables: Tables, samples: pl.DataFrame) -> dict[str, str]:
    """Return mix -> figure of % of Gmm against gyrations of all its samples, with the levels of its latest design."""
    rows = _linked(take(tables, "mix_density"), samples).filter(
        pl.col("gmm_pct").is_finite() & (pl.col("gyration") >= 1)
    )
    points = rows.select(
        "owner", "series", "href", "label", _styled("phase", _PHASES),
        pl.col("gyration").cast(pl.Float64).alias("x"), pl.col("gmm_pct").alias("y"),
    )  # fmt: skip
    last = pl.format(
        word("mix_page.density_end"), "label", fixed(pl.col("y").last().over("owner", "series"), pl.lit(1)),
        plots.count(pl.col("x").last().over("owner", "series")),
    )  # fmt: skip
    designs = take(tables, "mixes").drop_nulls("mix_id").sort("mix_id", "revision")
    latest = designs.unique("mix_id", keep="last", maintain_order=True).select(
        pl.col("mix_id").alias("owner"), *_LEVELS
    )
    marks = (
        latest.unpivot(index="owner", variable_name="level", value_name="n")
        .drop_nulls("n")
        .sort("owner", "n")
        .with_columns(
            pl.col("n").cast(pl.Float64).alias("x"),
            pl.lit(None, pl.Float64).alias("y"),
            pl.format("{} {}", pl.col("level").replace(
                {name: word(f"mix_page.{name}") for name in _LEVELS}), "n").alias("label"),
        )
    )  # fmt: skip
    points = _holding(points, marks).with_columns(last.alias("told"), plots.density_size(pl.col("far")))
    notes = marks.group_by("owner", maintain_order=True).agg(pl.col("label").str.join(", ").alias("note"))
    ends = filled("mix.density_ends", **{name: fixed(pl.col(name), pl.lit(1)) for name in ("least", "most")})
    about = _about(points, "mix_page.density_title", "mix_page.density_about", ends)
    drawn = bundles(points, marks, about, plots.density_axes)
    return _figures(drawn, word("chart.densification"), _legends(points, _PHASES, "phase"), notes, word(
        "mix_page.no_levels"))  # fmt: skip


_LEVELS = ("n_initial", "n_design", "n_maximum")


def _about(points: pl.DataFrame, title: str, description: str, ends: pl.Expr) -> pl.DataFrame:
    """Return owner, title and description; `ends`: in words, of columns least, most, n and failed, where they end."""
    curves = points.group_by("owner", "series", maintain_order=True).agg(pl.col("y").last(), pl.col("style").first())
    counts = curves.group_by("owner", maintain_order=True).agg(
        pl.col("y").min().alias("least"), pl.col("y").max().alias("most"), pl.len().alias("n"),
        (pl.col("style") == _VERDICTS["fail"]).sum().alias("failed"),
    )  # fmt: skip
    return counts.select(
        "owner",
        pl.format(word(title), clipped(pl.col("owner"), 60)).alias("title"),
        pl.concat_str(pl.format(word(description), "n"), pl.lit(" "), ends).alias("description"),
    )
