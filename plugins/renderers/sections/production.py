"""Control charts of production on the project page: those with signals first."""

import polars as pl

from plugins.renderers.charts.scale import scales
from plugins.renderers.charts.trend import latest, trends
from plugins.renderers.verbs.figures import fixed
from plugins.renderers.verbs.markup import clipped, fill
from plugins.renderers.verbs.presentation import day
from plugins.renderers.verbs.results import Tables, named, names
from plugins.renderers.verbs.shell import Cut, tables_by_owner
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.words import filled, spoken, word

_SERIES = ["project_id", "mix_id", "property", "point"]
#: Charts listed per project.
_CHARTS = Cut(120, "control.shown")
#: Lines of a chart.
_LINES = ("centre", "lower_control", "upper_control")


def charts(tables: Tables) -> dict[str, str]:
    """Return project -> table of its control charts."""
    rows = take(tables, "charts").drop_nulls("project_id")
    signals = pl.concat_str("signals", "published", separator=" ", ignore_nulls=True).fill_null("")
    rows = named(rows, names(rows, tables)).with_columns(signals.alias("signal"))
    shown = _series(rows).join(_drawn(rows), on=_SERIES, how="left", nulls_equal=True, maintain_order="left").sort(
        "signals_n", *_SERIES, descending=[True, *[False] * len(_SERIES)], nulls_last=True
    )  # fmt: skip
    texts = [fixed(pl.col(name), pl.col("decimals")).alias(f"{name}_text") for name in _LINES]
    raised = fill(
        '<span class="mark fail"><span aria-hidden="true">■</span> <span class="word">{count}</span></span>'
        '<span class="small">{said}</span>',
        count=filled("control.some", signals=pl.col("signals_n"), n=pl.col("n")),
        said=filled(
            "control.first",
            day=day(pl.col("first")).fill_null(word("text.none")),
            why=clipped(pl.col("why"), 200),
        ),
    )
    quiet = fill("{count}", count=filled("control.none", n=pl.col("n")))
    told = shown.with_columns(texts).with_columns(
        pl.when(pl.col("signals_n") > 0).then(raised).otherwise(quiet).alias("signal_html"),
        filled("control.between", lower=pl.col("lower_control_text"), upper=pl.col("upper_control_text"))
        .alias("between"),
        clipped(pl.col("mix_id"), 60).alias("mix"),
    )  # fmt: skip
    columns = {
        word("head.result"): '<b>{title}</b><span class="small"><bdi>{mix}</bdi></span>',
        word("control.centre"): "<strong>{centre_text}</strong> {unit}",
        word("control.limits"): "{between}",
        word("control.signals"): "{signal_html}",
        word("project.in_time"): "{trend_html}",
    }
    return tables_by_owner(told, "project_id", columns, cut=_CHARTS)


def _drawn(rows: pl.DataFrame) -> pl.DataFrame:
    """Return columns of `_SERIES` and trend_html: squares carry a signal."""
    values = rows.sort(*_SERIES, "place_no", nulls_last=True, maintain_order=True).select(
        *_SERIES,
        "value",
        "decimals",
        pl.col("lower_control").alias("lower"),
        pl.col("upper_control").alias("upper"),
        pl.when(pl.col("signal") != "").then(pl.lit("outside")).otherwise(pl.lit("within")).alias("side"),
    )
    return trends(latest(values, _SERIES), scales(values, _SERIES), _SERIES)


def _series(rows: pl.DataFrame) -> pl.DataFrame:
    """Return one row per chart: its lines, how many of its values carry a signal, which, and since when."""
    raised = pl.col("signal") != ""
    codes = pl.col("signal").filter(raised).str.split(" ").explode().unique(maintain_order=True)
    return rows.group_by(_SERIES, maintain_order=True).agg(
        pl.col("title", "unit", "decimals", *_LINES).first(),
        pl.len().alias("n"),
        raised.sum().alias("signals_n"),
        pl.col("taken_on").filter(raised).min().alias("first"),
        spoken("signal", codes).str.join(", ").alias("why"),
    )
