"""The data-quality page, put together: what was refused or waits, lapsed calibrations, instruments that drift."""

import polars as pl

from plugins.renderers.charts.scale import scales
from plugins.renderers.charts.trend import trends
from plugins.renderers.sections import refused
from plugins.renderers.sections.model import register
from plugins.renderers.verbs.figures import counted, fixed
from plugins.renderers.verbs.markup import clipped, fill, gathered
from plugins.renderers.verbs.results import Tables, named, names
from plugins.renderers.verbs.shell import as_of, page, tables_by_owner
from plugins.renderers.verbs.tables import take
from plugins.renderers.verbs.words import word

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
        pl.col("month").dt.strftime("%Y-%m").alias("month_text"),
        clipped(pl.coalesce("importer", pl.lit("no importer took it")), 60).alias("by"),
    )
    columns = {
        "Month": '<span class="date">{month_text}</span>',
        "Importer": "<bdi>{by}</bdi>",
        "Exports": "{exports}",
        "refused whole": "{refused_exports}",
        "refused in part": "{partly_exports}",
        "Sent again, the same bytes": "{duplicates}",
        "Rows accepted": "{rows_accepted}",
        "rows refused": "{rows_refused}",
        "rows corrected by a later issue": "{rows_superseded}",
        "Refusals that still stand": "{refusals_standing}",
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
        pl.coalesce(pl.col("last_due_on").cast(pl.String), pl.lit("none accepted before")).alias("ended"),
        *(_noun(f"{name}s", name, f"{name}s").alias(f"{name}_word") for name in ("specimen", "sample")),
        pl.when(pl.col("samples") > _SAMPLES_SHOWN).then(pl.lit(", …")).otherwise(pl.lit("")).alias("more"),
    )
    columns = {
        "Instrument": "{instrument_html}",
        "Last calibration covered until": '<span class="date">{ended}</span>',
        "Used without one": '<span class="date">{from}</span> to <span class="date">{to}</span>'
        '<span class="small">{specimens} {specimen_word} of {samples} {sample_word}</span>',
        "Samples": "{link_html}{more}",
    }
    return _listed(shown, columns, LAPSED_SHOWN), shown.height


def _noun(count: str, one: str, many: str) -> pl.Expr:
    return pl.when(pl.col(count) == 1).then(pl.lit(one)).otherwise(pl.lit(many))


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
    far = fill(
        '<span class="mark fail"><span aria-hidden="true">{shape}</span> <span class="word">{times} standard errors'
        "</span></span>",
        shape=pl.when(pl.col("shift") > 0).then(pl.lit("▲")).otherwise(pl.lit("▼")),
        times=fixed(pl.col("far"), pl.lit(1)),
    )
    near = fill("{times} standard errors", times=fixed(pl.col("far"), pl.lit(1)))
    places = pl.col("decimals").fill_null(2) + 1
    shown = last.join(drawn, on=_SERIES, how="left", nulls_equal=True, maintain_order="left").with_columns(
        _instrument(),
        pl.when(pl.col("far") >= _FAR).then(far).otherwise(near).alias("far_html"),
        fixed(pl.col("mean_off_mix"), places).alias("off"),
        fixed(pl.col("deviation_off_mix"), places).alias("s"),
        pl.concat_str(pl.col("quarter").dt.year(), pl.lit(", quarter "), pl.col("quarter").dt.quarter()).alias("when"),
        _noun("mixes", "mix", "mixes").alias("mix_word"),
        clipped(pl.col("record").str.replace_all("_", " ", literal=True), 40).alias("by"),
    )
    columns = {
        "Instrument": "{instrument_html}",
        "Figure": '<b>{title}</b><span class="small"><bdi>{by}</bdi></span>',
        "Off its mixes": '<strong>{off}</strong> ± {s} {unit}<span class="small">{when}: {specimens} specimens of '
        "{mixes} {mix_word}</span>",
        "How far": "{far_html}",
        "Quarter by quarter": "{trend_html}",
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
    waiting = refusals.filter(pl.col("state") == "waiting")
    turned = refusals.filter(pl.col("state") == "refused")
    words = {name: cell for name, cell in refused.COLUMNS.items() if name != "State"}
    lapsed_html, lapsed_count = _lapsed(tables, samples)
    drift_html, drift_count = _drift(tables)
    arrivals = take(tables, "arrivals")
    if arrivals.is_empty() and refusals.is_empty():
        lead = word("nothing.arrived")
    else:
        lead = (
            f"{counted(turned.height, 'refusal')}, {counted(waiting.height, 'entry', 'entries')} waiting for a "
            f"sample, {counted(lapsed_count, 'lapsed calibration')}."
        )
    return page(
        "quality.html",
        as_of(tables),
        lead=lead,
        accepted=int(arrivals["rows_accepted"].sum()),
        arrivals_html=_arrivals(tables),
        refused_html=_listed(turned, words, REFUSED_SHOWN),
        refused_count=turned.height,
        waiting_html=_listed(waiting, words, REFUSED_SHOWN),
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
