"""Sample pages: results against limits, specimens, curves, and the trace of every figure."""

from collections.abc import Iterator

import polars as pl

from plugins.renderers.sections import lists, plots
from plugins.renderers.sections.model import Model, model
from plugins.renderers.sections.specimens import specimen_doubts, specimen_tables
from plugins.renderers.sections.trace import equation_html, method_titles, traces
from plugins.renderers.verbs.figures import fixed, plain
from plugins.renderers.verbs.markup import clipped, fill, gathered, given, own_words, phrase
from plugins.renderers.verbs.presentation import day
from plugins.renderers.verbs.results import Tables, limited_first
from plugins.renderers.verbs.shell import as_of, page, tables_by_owner
from plugins.renderers.verbs.tables import RESULT_KEY, of_samples, take, within
from plugins.renderers.verbs.verdicts import mark_html
from plugins.renderers.verbs.words import filled, spoken, word


def _judgements(parts: Model, scope: frozenset[str] | None) -> pl.DataFrame:
    """Return per result all its limits with verdict, reason and source: columns of `RESULT_KEY`, limits_html."""
    block = fill(
        '<div class="verdict">{limit} {mark_html}{reason_html}{source_html}</div>',
        limit=pl.col("limit").fill_null(word("nothing.unknown_limit")),
        mark_html=mark_html(),
        reason_html=given("reason", fill(' <span class="small"><bdi>{reason}</bdi></span>')),
        source_html=given("source", fill(' <span class="small"><bdi>{source}</bdi></span>')),
    )
    judged = within(parts.judged, "sample_id", scope)
    return gathered(judged.select(*RESULT_KEY, block.alias("limits_html")), RESULT_KEY, "limits_html")


def _origin_html(parts: Model, scope: frozenset[str] | None) -> pl.DataFrame:
    """Return where the readings of a property stand on the page: columns sample_id, property, origin."""
    values = within(take(parts.tables, "specimen_values"), "sample_id", scope)
    methods = values.select("sample_id", "property", "method").unique(["sample_id", "property"], keep="first")
    named = methods.join(method_titles(methods["method"]), on="method", how="left")
    return named.select("sample_id", "property", pl.col("method_anchor").alias("origin"))


def _results(parts: Model, scope: frozenset[str] | None) -> dict[str, str]:
    """Return sample -> table of its results."""
    rows = limited_first(within(parts.results, "sample_id", scope), "sample_id")
    limits, origin = _judgements(parts, scope), _origin_html(parts, scope)
    doubt = lists.doubts(rows, parts, RESULT_KEY)
    rows = (
        rows.join(limits, on=RESULT_KEY, how="left", nulls_equal=True, maintain_order="left")
        .join(doubt, on=RESULT_KEY, how="left", nulls_equal=True, maintain_order="left")
        .join(origin, on=["sample_id", "property"], how="left", maintain_order="left")
    )
    figure = fill(
        '<span class="firm"><strong>{shown}</strong> {unit}</span>{doubt_html}',
        doubt_html=given(
            "doubt",
            fill('<span class="small firm">{said_html}</span>', said_html=phrase("sample.u", u=pl.col("doubt"))),
        ),
    )
    reason = fill("<bdi>{reason}</bdi>", reason=pl.col("withheld").fill_null(word("sample.no_reason")))
    held = fill('<span class="flag">{said_html}</span>', said_html=phrase("sample.held", reason_html=reason))
    spread = given("spread", fill(", s {s}", s=fixed(pl.col("spread"), pl.col("decimals") + 1)))
    rows = rows.with_columns(
        pl.when(pl.col("shown").is_not_null()).then(figure).otherwise(held).alias("figure_html"),
        given("n", fill('<span class="small firm">n {n}{spread_html}</span>', spread_html=spread)).alias("n_html"),
        given("symbol", fill(' <span class="small">{symbol}</span>')).alias("symbol_html"),
        pl.when(_first_of_property()).then(equation_html()).alias("equation_html"),
        pl.concat_str("standard", "section", separator=", ", ignore_nulls=True).alias("method"),
        pl.coalesce("limits_html", fill('<span class="small">{words}</span>', words=pl.lit(word("density.none")))),
        pl.col("origin").fill_null("trace"),
        _route_html().alias("route_html"),
        pl.lit(word("sample.readings")).alias("readings"),
    )
    columns = {
        word("head.result"): "<b>{title}</b>{symbol_html}",
        word("head.figure"): "{figure_html}{n_html}",
        word("sample.against"): "{limits_html}",
        word("head.method"): '{method}<span class="small">{equation_html}{route_html} '
        '<a href="#{origin}">{readings}</a></span>',
        word("sample.doubts"): "{doubt_html}",
    }
    return tables_by_owner(rows, "sample_id", columns, "cards figured", row='<tr id="{anchor}">')


def _first_of_property() -> pl.Expr:
    """Return whether a row is the first of its property: the equation need not stand at every sieve."""
    return pl.int_range(pl.len()).over("sample_id", "property") == 0


def _route_html() -> pl.Expr:
    other = pl.col("route") != pl.col("property")
    return given(
        pl.when(other).then(pl.col("route")),
        fill(" {said_html}", said_html=phrase("sample.route", route=spoken("route", pl.col("route")))),
    )


def _unmet(parts: Model, scope: frozenset[str] | None) -> dict[str, str]:
    """Return sample -> list of limits for which there is neither a result nor an entry among the missing tests."""
    judged = within(parts.judged, "sample_id", scope)
    for name in ("sample_values", "missing"):
        judged = judged.join(take(parts.tables, name), on=RESULT_KEY, how="anti", nulls_equal=True)
    columns = {
        word("head.test"): "{title}",
        word("head.limit"): "{limit}",
        word("sample.no_verdict"): "<bdi>{reason}</bdi>",
    }
    return tables_by_owner(judged.sort("sample_id", "property", "point", "limit_id"), "sample_id", columns)


def _plot_html(name: str, about: str, drawn: tuple[dict[str, str], dict[str, str]]) -> dict[str, str]:
    plot, legend = drawn
    head, note = own_words(word(name)), own_words(word(about))
    return {
        owner: f'<figure><h3>{head}</h3>{svg}{legend.get(owner, "")}<p class="small">{note}</p></figure>'
        for owner, svg in plot.items()
    }


def _sections(parts: Model, scope: frozenset[str] | None) -> dict[str, dict[str, str]]:
    return {
        "results_html": _results(parts, scope),
        "unmet_html": _unmet(parts, scope),
        "specimens_html": specimen_tables(parts, scope),
        "density_html": _plot_html(
            "chart.densification", "sample.densification_about",
            plots.densification(parts, scope),
        ),
        "rut_html": _plot_html(
            "chart.rut", "sample.rut_about",
            plots.rutting(parts, scope),
        ),
        "missing_html": lists.missing(parts, "sample_id"),
        "doubtful_html": specimen_doubts(parts, scope),
        "waiting_html": lists.refusals(parts, "sample_id"),
        "trace_html": traces(parts, scope),
    }  # fmt: skip


def leads(parts: Model) -> dict[str, str]:
    """Return sample -> how many of its judged results lie within the limits, in words."""
    verdicts = parts.judged.group_by("sample_id").agg(
        (pl.col("verdict") == "pass").sum().alias("passed"), (pl.col("verdict") == "fail").sum().alias("failed")
    )
    counts = {"failed": pl.col("failed"), "passed": pl.col("passed"), "judged": pl.col("failed") + pl.col("passed")}
    text = (
        pl.when(pl.col("failed") > 0)
        .then(filled("sample.lead_outside", **counts))
        .when(pl.col("passed") > 0)
        .then(filled("sample.lead_within", **counts))
        .otherwise(pl.lit(word("sample.lead_unjudged")))
    )
    return dict(verdicts.select("sample_id", text.alias("lead")).iter_rows())


def _facts(parts: Model) -> pl.DataFrame:
    """Return the samples with the texts of their heads."""
    revision = filled("head.revision", revision=pl.col("revision")).str.replace_all(" ", "\u00a0", literal=True)
    return parts.samples.with_columns(
        clipped(pl.col("sample_id"), 160).alias("title"),
        clipped(pl.coalesce("project_name", "project_id"), 160).alias("project_title"),
        plain(pl.col("tonnage_t")).alias("tonnage"),
        plain(pl.col("nmas_mm")).alias("nmas"),
        day(pl.col("taken_on")).alias("taken"),
        pl.concat_str("mix_id", revision, separator=", ", ignore_nulls=True).alias("mix"),
        pl.concat_str("lot", "sublot", separator=" / ", ignore_nulls=True).alias("lot_text"),
    )


def sample_pages(tables: Tables, scope: frozenset[str] | None) -> Iterator[tuple[str, bytes]]:
    """Yield slug and page of every sample in the scope.

    Parameters
    ----------
    tables
        The tables handed in (`verbs.tables.TABLES`).
    scope
        Ids of the samples to render; None is all.
    """
    parts = model(of_samples(tables, scope))
    sections, said, stamp = _sections(parts, scope), leads(parts), as_of(tables)
    for sample in within(_facts(parts), "sample_id", scope).iter_rows(named=True):
        name = sample["sample_id"]
        filled = {section: by_owner.get(name, "") for section, by_owner in sections.items()}
        lead = said.get(name, word("nothing.judged" if filled["results_html"] else "sample.lead_none"))
        yield sample["slug"], page("sample.html", stamp, sample=sample, lead=lead, **filled)
