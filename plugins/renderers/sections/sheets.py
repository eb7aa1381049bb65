"""The tables of the pages as plain tables: what workbook, CSV and JSON hold; text stays text, numbers numbers."""

import polars as pl

from plugins.api import Scope
from plugins.renderers.sections.model import Model, model
from plugins.renderers.sections.overview import limits
from plugins.renderers.verbs.results import Tables, named, names
from plugins.renderers.verbs.tables import take, within

_RESULT = ["project_id", "property", "point"]
#: Figure of `project_figures` -> column of the summary.
_FIGURES = {"mean": "mean", "s": "s", "least": "least", "most": "largest"}


def _figure(text: pl.Expr, value: pl.Expr) -> pl.Expr:
    """Return a figure as it is reported, as a number; the unrounded one where no text came with it."""
    return pl.coalesce(text.cast(pl.Float64, strict=False), value)


def _rounded(value: pl.Expr) -> pl.Expr:
    """Round to the reporting decimals of the row, exact halves to even, as the pages show means and spreads."""
    scale = pl.lit(10.0).pow(pl.col("decimals").fill_null(3).cast(pl.Float64))
    scaled = (value.abs() * scale).round(9).round(0)
    return pl.when(value < 0).then(-scaled / scale).otherwise(scaled / scale)


def results(parts: Model) -> pl.DataFrame:
    """Return every sample result with its worst verdict: the figures as they are reported."""
    register = parts.samples.select(
        "sample_id", "project_name", "mix_id", "revision", "phase", "lot", "sublot", "taken_on", "laboratory_id"
    )
    rows = parts.results.join(register, on="sample_id", how="left", maintain_order="left")
    return rows.select(
        "project_id", "project_name", "mix_id", "revision", "sample_id", "phase", "lot", "sublot", "taken_on",
        "laboratory_id", "property", "point", pl.col("title").alias("result"), "symbol", "unit",
        _figure(pl.col("text"), pl.col("value")).alias("figure"), "uncertainty", "n",
        pl.col("lower").alias("lower_limit"), pl.col("upper").alias("upper_limit"), "verdict", "reason", "flags",
        "withheld", pl.concat_str("standard", "section", separator=", ", ignore_nulls=True).alias("method"),
    ).sort("project_id", "taken_on", "sample_id", nulls_last=True, maintain_order=True)  # fmt: skip


def summary(parts: Model) -> pl.DataFrame:
    """Return one row per project and result: how many, mean, s, range, how many within and outside the limits."""
    flagged = (pl.col("flags").fill_null("") != "").sum().cast(pl.Int64).alias("flagged_n")
    register = parts.results.group_by(_RESULT, maintain_order=True).agg(pl.col("place_in_list").first(), flagged)
    projects = parts.projects.select("project_id", "project_name", "client", "laboratory_id")
    rows = named(take(parts.tables, "project_figures").drop_nulls("project_id"), parts.naming)
    for piece in (register, limits(parts.tables, parts.naming)):
        rows = rows.join(piece, on=_RESULT, how="left", nulls_equal=True, maintain_order="left")
    joined = rows.join(projects, on="project_id", how="left", maintain_order="left")
    return joined.sort("project_id", "place_in_list", "property", "point", nulls_last=True).select(
        "project_id", "project_name", "client", "laboratory_id", "property", "point", pl.col("title").alias("result"),
        "symbol", "unit", "n",
        *(_rounded(pl.col(name)).alias(told) for name, told in _FIGURES.items()),
        pl.col("limits").fill_null(""),
        pl.col("passed").alias("pass_n"), pl.col("failed").alias("fail_n"), pl.col("left_out").alias("left_out_n"),
        pl.col("flagged_n").fill_null(0),
    )  # fmt: skip


def _named(tables: Tables, name: str) -> pl.DataFrame:
    """Return a table with property and point, and behind these what they are called and in which unit."""
    rows = take(tables, name)
    joined = named(rows, names(rows, tables).select("property", "point", "title", pl.col("unit").alias("unit_")))
    columns = [each for each in rows.columns if each not in ("property", "point")]
    return joined.select(
        "property", "point", pl.col("title").alias("result"), pl.col("unit_").alias("unit"), *columns
    )  # fmt: skip


def sheets(tables: Tables, scope: Scope) -> dict[str, pl.DataFrame]:
    """Return name -> table, in the order of a workbook.

    Parameters
    ----------
    tables
        The tables handed in, in the units they are shown in.
    scope
        Projects and samples to keep to.
    """
    parts = model(tables)
    register = take(tables, "samples")
    heads = parts.projects.select("project_id", "project_name", "client", "laboratory_id", "set_id")
    made = {
        "projects": within(heads, "project_id", scope.projects),
        "summary": within(summary(parts), "project_id", scope.projects),
        "results": within(within(results(parts), "project_id", scope.projects), "sample_id", scope.samples),
        "samples": within(register, "sample_id", scope.samples),
        "lots": within(_named(tables, "lots"), "project_id", scope.projects),
        "work_list": within(take(tables, "work"), "project_id", scope.projects),
        "missing": within(_named(tables, "missing"), "project_id", scope.projects),
        "refused": within(take(tables, "refusals"), "project_id", scope.projects),
        "data_quality": take(tables, "arrivals"),
        "calibration_lapsed": within(take(tables, "lapsed"), "sample_id", scope.samples),
    }
    return made | {"about": _about(tables)}


def _about(tables: Tables) -> pl.DataFrame:
    run = take(tables, "run")
    asked = take(tables, "presentation")
    told = {**(run.row(-1, named=True) if run.height else {}), **(asked.row(0, named=True) if asked.height else {})}
    rows = [(name, None if value is None else str(value)) for name, value in told.items()]
    return pl.DataFrame(rows, schema={"name": pl.String, "value": pl.String}, orient="row")
