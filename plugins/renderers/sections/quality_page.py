"""The data-quality page, put together: what was refused or waits, lapsed calibrations, instruments that drift."""

import polars as pl

from plugins.renderers.charts.scale import scales
from plugins.renderers.charts.trend import trends
from plugins.renderers.sections import refused
from plugins.renderers.sections.model import register
from plugins.renderers.verbs.figures import counted, counted_each, fixed
from plugins.renderers.verbs.markup import clipped, fill, gathered, phrase
from plugins.renderers.verbs.presentation import day, month
from plugins.renderers.verbs.results import Tables, named, names
from plugins.renderers.verbs.shell import as_of, page, tables_by_owner
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.words import filled, spoken, word

#: Rows listed per section; all are counted.
REFUSED_SHOWN, LAPSED_SHOWN, DRIFT_SHOWN, MONTHS_SHOWN = 400, 200, 40, 120
#: Links to samples in one cell.
_SAMPLES_SHOWN = 12
#: A mean that lies this many of its standard errors off its mixes is marked; 3 as for the limits of control charts.
_FAR = 3
_SERIES = ["instrument_id", "record", "property", "point"]


def _listed(rows: pl.DataFrame, columns: dict[str, str], shown: int, kind: str = "cards") -> str:
    """Return one table of the first rows."""
    return tables_by_owner(rows.head(shown).with_columns(pl.lit("all").alias("owner")), "owner", columns, kind).get(
        "all", ""
    )


def _arrivals(tables: Tables) -> str:
    rows = take(tables, "arrivals").with_columns(
        month(pl.col("month")).alias("month_text"),
        clipped(pl.coalesce("importer", pl.lit(word("quality.no_importer"))), 60).alias("by"),
    )
    columns = {
        word("quality.month"): '<span class="date">{month_text}</span>',
        word("quality.importer"): "<bdi>{by}</bdi>",
        word("quality.exports"): "{exports}",
        word("quality.refused_whole"): "{refused_exports}",
        word("quality.refused_part"): "{partly_exports}",
        word("quality.duplicates"): "{duplicates}",
        word("quality.rows_accepted"): "{rows_accepted}",
        word("quality.rows_refused"): "{rows_refused}",
        word("quality.rows_corrected"): "{rows_superseded}",
        word("quality.standing"): "{refusals_standing}",
    }
    return _listed(rows, columns, MONTHS_SHOWN, "cards tally")


def _lapsed(tables: Tables, samples: pl.DataFrame) -> tuple[str, int]:
    """Return, per instrument and calibration, the days it was used without one and the samples it was used for."""
    by = ["instrument_id", "kind", "laboratory_id", "last_due_on"]
    rows = take(tables, "lapsed").join(
        samples.select("sample_id", "slug"), on="sample_id", how="left", maintain_order="left"
    )
    link = fill('<a href="sample/{slug}.html"><bdi>{label}</bdi></a>', label=clipped(pl.col("sample_id"), 60))
    plain = fill("<bdi>{label}</bdi>", label=clipped(pl.col("sample_id"), 60))
    one = rows.with_columns(pl.when(pl.col("slug").is_not_null()).then(link).otherwise(plain).alias("link_html"))
    first = one.unique([*by, "sample_id"], keep="first", maintain_order=True)
    links = gathered(
        first.filter(pl.int_range(pl.len()).over(by) < _SAMPLES_SHOWN).select(*by, "link_html"), by, "link_html", ", "
    )
    sizes = rows.group_by(by, maintain_order=True).agg(
        pl.col("specimens").sum(), pl.col("tested_on").min().alias("from"), pl.col("tested_on").max().alias("to"),
        pl.col("sample_id").n_unique().alias("samples"),
    )  # fmt: skip
    shown = sizes.join(links, on=by, how="left", nulls_equal=True, maintain_order="left").with_columns(
        _instrument(),
        pl.coalesce(day(pl.col("last_due_on")), pl.lit(word("quality.none_before"))).alias("ended"),
        pl.when(pl.col("samples") > _SAMPLES_SHOWN).then(pl.lit(", …")).otherwise(pl.lit("")).alias("more"),
        phrase("quality.from_to", from_html=_date("from"), to_html=_date("to")).alias("span_html"),
        filled(
            "quality.tested",
            specimens=counted_each(pl.col("specimens"), "specimen"),
            samples=counted_each(pl.col("samples"), "sample"),
        ).alias("tested"),
    )
    columns = {
        word("head.instrument"): "{instrument_html}",
        word("quality.covered_until"): '<span class="date">{ended}</span>',
        word("quality.used_without"): '{span_html}<span class="small">{tested}</span>',
        word("head.samples"): "{link_html}{more}",
    }
    return _listed(shown, columns, LAPSED_SHOWN), shown.height


def _date(column: str) -> pl.Expr:
    return fill('<span class="date">{day}</span>', day=day(pl.col(column)))


def _instrument() -> pl.Expr:
    about = pl.concat_str(clipped(pl.col("kind"), 40), clipped(pl.col("laboratory_id"), 40), separator=", ",
                          ignore_nulls=True)  # fmt: skip
    return fill(
        '<b><bdi>{instrument}</bdi></b><span class="small"><bdi>{about}</bdi></span>',
        instrument=clipped(pl.col("instrument_id"), 60),
        about=about,
    ).alias("instrument_html")


def _drift(tables: Tables) -> tuple[str, int]:
    """Return the series of quarters, those whose last quarter lies farthest from its mixes first."""
    rows = take(tables, "drift").filter(pl.col("mean_off_mix").is_not_null())
    rows = named(rows, names(rows, tables)).sort(*_SERIES, "quarter", nulls_last=True, maintain_order=True)
    last = rows.filter(pl.col("shift").is_not_null()).unique(_SERIES, keep="last", maintain_order=True)
    last = last.with_columns(pl.col("shift").abs().alias("far")).sort(
        "far", *_SERIES, descending=[True, *[False] * len(_SERIES)], nulls_last=True
    )
    wanted = rows.join(last.head(DRIFT_SHOWN), on=_SERIES, how="semi", nulls_equal=True, maintain_order="left")
    drawn = _trends(wanted)
    errors = phrase("quality.errors", times=fixed(pl.col("far"), pl.lit(1)))
    far = fill(
        '<span class="mark fail"><span aria-hidden="true">{shape}</span> '
        '<span class="word">{errors_html}</span></span>',
        shape=pl.when(pl.col("shift") > 0).then(pl.lit("▲")).otherwise(pl.lit("▼")),
        errors_html=errors,
    )
    places = pl.col("decimals").fill_null(2) + 1
    shown = last.join(drawn, on=_SERIES, how="left", nulls_equal=True, maintain_order="left").with_columns(
        _instrument(),
        pl.when(pl.col("far") >= _FAR).then(far).otherwise(errors).alias("far_html"),
        fixed(pl.col("mean_off_mix"), places).alias("off"),
        fixed(pl.col("deviation_off_mix"), places).alias("s"),
        filled(
            "quality.off",
            year=pl.col("quarter").dt.year().cast(pl.String),
            quarter=pl.col("quarter").dt.quarter().cast(pl.String),
            specimens=counted_each(pl.col("specimens"), "specimen"),
            mixes=counted_each(pl.col("mixes"), "mix"),
        ).alias("about"),
        clipped(spoken("record", pl.col("record")), 40).alias("by"),
    )
    columns = {
        word("head.instrument"): "{instrument_html}",
        word("head.figure"): '<b>{title}</b><span class="small"><bdi>{by}</bdi></span>',
        word("quality.off_mixes"): '<strong>{off}</strong> ± {s} {unit}<span class="small">{about}</span>',
        word("quality.how_far"): "{far_html}",
        word("quality.quarters"): "{trend_html}",
    }
    return _listed(shown, columns, DRIFT_SHOWN), shown.height


def _trends(rows: pl.DataFrame) -> pl.DataFrame:
    none = pl.lit(None, pl.Float64)
    values = rows.select(
        *_SERIES, pl.col("mean_off_mix").alias("value"), none.alias("lower"), none.alias("upper"),
        pl.lit(None, pl.String).alias("side"),
    )  # fmt: skip
    level = values.with_columns(pl.lit(0.0).alias("value"))
    return trends(values, scales(pl.concat([values, level]), _SERIES), _SERIES, level=0.0)


def quality_html(tables: Tables) -> bytes:
    """Return the data-quality page of all laboratories.

    Parameters
    ----------
    tables
        The tables handed in (`verbs.tables.TABLES`).
    """
    _, samples = register(tables)
    refusals = refused.shown(take(tables, "refusals"))
    waiting, turned = refusals.filter("waiting"), refusals.filter(~pl.col("waiting"))
    columns = refused.columns(stated=False)
    lapsed_html, lapsed_count = _lapsed(tables, samples)
    drift_html, drift_count = _drift(tables)
    arrivals = take(tables, "arrivals")
    if arrivals.is_empty() and refusals.is_empty():
        lead = word("nothing.arrived")
    else:
        lead = word(
            "quality.lead",
            refusals=counted(turned.height, "refusal"),
            entries=counted(waiting.height, "entry"),
            lapsed=counted(lapsed_count, "lapsed"),
        )
    return page(
        "quality.html",
        as_of(tables),
        lead=lead,
        accepted=int(arrivals["rows_accepted"].sum()),
        arrivals_html=_arrivals(tables),
        refused_html=_listed(turned, columns, REFUSED_SHOWN),
        refused_count=turned.height,
        waiting_html=_listed(waiting, columns, REFUSED_SHOWN),
        waiting_count=waiting.height,
        refused_shown=REFUSED_SHOWN,
        lapsed_html=lapsed_html,
        lapsed_count=lapsed_count,
        lapsed_shown=LAPSED_SHOWN,
        far=_FAR,
        drift_html=drift_html,
        drift_count=drift_count,
        drift_shown=DRIFT_SHOWN,
    )
