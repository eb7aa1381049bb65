"""Production on the project page: lots with percent within limits and pay, control charts of the mixes."""

import polars as pl

from plugins.renderers.charts.scale import scales
from plugins.renderers.charts.trend import trends
from plugins.renderers.verbs.figures import fixed
from plugins.renderers.verbs.markup import clipped, fill, given
from plugins.renderers.verbs.results import Tables, named, names
from plugins.renderers.verbs.shell import tables_by_owner
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.verdicts import limit_text

_SERIES = ["project_id", "mix_id", "property", "point"]
#: Lots and charts listed per project.
_LOTS_SHOWN, _CHARTS_SHOWN = 300, 120
#: What holds of a lot -> how it is said.
_SAID = {
    "retest": "a retest is owed",
    "removal": "the removal threshold is reached",
    "outlier": "a result stands out; it counts all the same",
}


def lots(tables: Tables) -> dict[str, str]:
    """Return project -> table of its lots."""
    rows = take(tables, "lots").drop_nulls("project_id")
    rows = named(rows, names(rows, tables))
    texts = {"mean": pl.col("decimals"), "s": pl.col("decimals"), **dict.fromkeys(_PERCENT, pl.lit(2))}
    shown = rows.with_columns(
        *(fixed(pl.col(name), places).alias(f"{name}_text") for name, places in texts.items()),
        limit_text().alias("limit"),
        *(clipped(pl.col(name), 300).alias(name) for name in ("consequence", "reason")),
        *(pl.when(pl.col(name)).then(pl.lit(word)).alias(name) for name, word in _SAID.items()),
        *(clipped(pl.col(name), 60).alias(name) for name in ("mix_id", "lot", "plan_id")),
        given("left_out", fill(", {left_out} left out")).alias("left_html"),
    )
    pm = given("s_text", fill(" ± {s_text}"))
    within = given("within_pct_text", fill("<strong>{within_pct_text} %</strong>"))
    pay = given("pay_pct_text", fill("<strong>{pay_pct_text} %</strong>"))
    whole = given("composite_pct_text", fill('<span class="small">lot as a whole {composite_pct_text} %</span>'))
    said = [
        given(name, fill(f'<span class="flag small"><bdi>{{{name}}}</bdi></span>'))
        for name in ("consequence", *_SAID, "reason")
    ]
    filled = shown.with_columns(
        pm.alias("pm_html"),
        within.alias("within_html"),
        pl.concat_str(pay, whole).alias("pay_html"),
        pl.concat_str(said).alias("said_html"),
    )
    columns = {
        "Lot": '<b><bdi>{lot}</bdi></b><span class="small"><bdi>{mix_id}</bdi></span>',
        "Result": '{title}<span class="small"><bdi>{plan_id}</bdi></span>',
        "Mean ± s": '<strong>{mean_text}</strong>{pm_html} {unit}<span class="small">n {n}{left_html}</span>',
        "Limits": "{limit}",
        "Within limits": "{within_html}",
        "Pay": "{pay_html}",
        "To mind": "{said_html}",
    }
    listed = filled.filter(pl.int_range(pl.len()).over("project_id") < _LOTS_SHOWN)
    return tables_by_owner(listed, "project_id", columns)


#: Columns in percent.
_PERCENT = ("within_pct", "pay_pct", "composite_pct")


def charts(tables: Tables) -> dict[str, str]:
    """Return project -> table of its control charts, those with signals first."""
    rows = take(tables, "charts").drop_nulls("project_id")
    signals = pl.concat_str("signals", "published", separator=" ", ignore_nulls=True).fill_null("")
    rows = named(rows, names(rows, tables)).with_columns(signals.alias("signal"))
    values = rows.sort(*_SERIES, "place_no", nulls_last=True, maintain_order=True).select(
        *_SERIES,
        "value",
        pl.col("lower_control").alias("lower"),
        pl.col("upper_control").alias("upper"),
        pl.when(pl.col("signal") != "").then(pl.lit("outside")).otherwise(pl.lit("within")).alias("side"),
    )
    drawn = trends(values, scales(values, _SERIES), _SERIES)
    raised = pl.col("signal") != ""
    cells = rows.group_by(_SERIES, maintain_order=True).agg(
        pl.col("title", "unit", "decimals", "centre", "lower_control", "upper_control").first(),
        pl.len().alias("n"),
        raised.sum().alias("signals_n"),
        pl.col("taken_on").filter(raised).min().alias("first"),
        pl.col("signal")
        .filter(raised)
        .str.split(" ")
        .explode()
        .unique(maintain_order=True)
        .str.join(", ")
        .alias("why"),
    )
    shown = cells.join(drawn, on=_SERIES, how="left", nulls_equal=True, maintain_order="left").sort(
        "signals_n", *_SERIES, descending=[True, *[False] * len(_SERIES)], nulls_last=True
    )
    texts = [fixed(pl.col(name), pl.col("decimals")).alias(f"{name}_text") for name in _LINES]
    signal = fill(
        '<span class="mark fail"><span aria-hidden="true">■</span> <span class="word">{signals_n} of {n}</span></span>'
        '<span class="small">first <span class="date">{first}</span>: {said}</span>',
        said=clipped(pl.col("why").str.replace_all("_", " ", literal=True), 200),
    )
    filled = shown.with_columns(texts).with_columns(
        pl.when(pl.col("signals_n") > 0).then(signal).otherwise(fill("none of {n}")).alias("signal_html"),
        clipped(pl.col("mix_id"), 60).alias("mix"),
    )
    columns = {
        "Result": '<b>{title}</b><span class="small"><bdi>{mix}</bdi></span>',
        "Centre": "<strong>{centre_text}</strong> {unit}",
        "Control limits": "{lower_control_text} to {upper_control_text}",
        "Signals": "{signal_html}",
        "In time order": "{trend_html}",
    }
    listed = filled.filter(pl.int_range(pl.len()).over("project_id") < _CHARTS_SHOWN)
    return tables_by_owner(listed, "project_id", columns)


#: Lines of a chart.
_LINES = ("centre", "lower_control", "upper_control")
