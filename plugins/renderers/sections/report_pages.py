"""Sample reports as pages: what `report_content` says, with charts, ready to print and sign."""

from collections.abc import Iterator
from typing import Any

import polars as pl

from plugins.renderers.sections import plots
from plugins.renderers.sections import report_content as content
from plugins.renderers.sections.model import Model, model
from plugins.renderers.sections.sample_gradation import sample_gradations
from plugins.renderers.sections.sample_pages import leads
from plugins.renderers.sections.specimens import specimen_tables
from plugins.renderers.verbs.markup import clipped, css_string, fill, gathered, given, own_words
from plugins.renderers.verbs.presentation import current, day, moment
from plugins.renderers.verbs.results import Tables
from plugins.renderers.verbs.shell import as_of, page, style_of, tables_by_owner
from plugins.renderers.verbs.slugs import slug
from plugins.renderers.verbs.tables import RESULT_KEY, of_samples, take
from plugins.renderers.verbs.verdicts import mark_html
from plugins.renderers.verbs.words import group, word

_Sections = dict[str, dict[str, str]]


def _results(parts: Model) -> dict[str, str]:
    """Return sample -> table of its results with unit, uncertainty, limits, verdicts and method."""
    block = fill(
        '<div class="verdict">{limit} {mark_html}{reason_html}</div>',
        limit=pl.col("limit").fill_null(word("nothing.unknown_limit")),
        mark_html=mark_html(),
        reason_html=given("reason", fill(' <span class="small"><bdi>{reason}</bdi></span>')),
    )
    judged = content.limits(parts).sort("sample_id", "property", "point", "limit_id", maintain_order=True)
    held = gathered(judged.select(*RESULT_KEY, block.alias("limits_html")), RESULT_KEY, "limits_html")
    rows = content.results(parts).join(held, on=RESULT_KEY, how="left", nulls_equal=True, maintain_order="left")
    figure = fill('<strong class="firm"><bdi>{figure}</bdi></strong>')
    held_back = fill('<a class="flag small" href="#deviations">{words}</a>', words=pl.lit(word("report.held")))
    rows = rows.with_columns(
        pl.when(pl.col("shown").is_not_null()).then(figure).otherwise(held_back).alias("figure_html"),
        pl.col("limits_html").fill_null(pl.lit(word("density.none"))),
        given("symbol", fill(' <span class="small">{symbol}</span>')).alias("symbol_html"),
        pl.when(pl.col("shown").is_not_null()).then(pl.col("unit")).alias("unit"),
    )
    columns = {
        word("head.result"): "<b>{title}</b>{symbol_html}",
        word("head.figure"): "{figure_html}",
        word("head.unit"): "{unit}",
        word("head.uncertainty"): '<span class="firm">{doubt}</span>',
        f"{word('head.limit')}, {word('head.verdict').lower()}": "{limits_html}",
        word("head.method"): '<span class="small">{method_text}</span>',
    }
    return tables_by_owner(rows, "sample_id", columns, "cards report results")


def _rules(parts: Model) -> dict[str, str]:
    """Return sample -> the decision rules its verdicts rest on, and where the limits stand."""
    judged = content.limits(parts).filter(pl.col("verdict") != "not_judged")
    rule = judged.select("sample_id", "rule_text").drop_nulls().unique(maintain_order=True)
    source = judged.select("sample_id", "set_id", "source").unique(maintain_order=True)
    rules = gathered(rule.select("sample_id", fill("<li>{rule_text}</li>").alias("rule")), ["sample_id"], "rule")
    said = pl.concat_str("set_id", "source", separator=": ", ignore_nulls=True)
    named = source.select("sample_id", said.alias("said")).filter(pl.col("said") != "").unique(maintain_order=True)
    named = named.select("sample_id", fill("<li><bdi>{said}</bdi></li>").alias("source"))
    both = rules.join(gathered(named, ["sample_id"], "source"), on="sample_id", how="full", coalesce=True)
    block = fill(
        '<div class="small"><h3>{rule_head}</h3><ul>{rule_html}</ul><h3>{source_head}</h3><ul>{source_html}</ul></div>',
        rule_head=pl.lit(word("report.rule")),
        source_head=pl.lit(word("report.governing")),
        rule_html=pl.col("rule"),
        source_html=pl.col("source"),
    )
    return dict(both.select("sample_id", block.alias("block")).iter_rows())


def _instruments(parts: Model) -> dict[str, str]:
    doubtful = ~pl.col("state").is_in(["covered"])
    state = pl.when(doubtful).then(fill('<span class="mark fail">{state_text}</span>')).otherwise(fill("{state_text}"))
    rows = content.instruments(parts).with_columns(state.alias("state_html"))
    columns = {
        word("head.instrument"): '<bdi>{instrument_id}</bdi> <span class="small"><bdi>{kind}</bdi></span>',
        word("head.used_for"): "{used_for}",
        word("head.used_on"): "{used_on}",
        word("head.calibrated"): "{calibrated}",
        word("head.due"): "{due}",
        word("head.state"): "{state_html}",
    }
    return tables_by_owner(rows, "sample_id", columns, "cards report")


def _deviations(parts: Model) -> dict[str, str]:
    source = given("source", fill(' <span class="small"><bdi>{source}</bdi></span>'))
    rows = content.deviations(parts).with_columns(source.alias("source_html"))
    columns = {word("head.why"): "<bdi>{why}</bdi>{source_html}", word("head.concerns"): "<bdi>{what}</bdi>"}
    return tables_by_owner(rows, "sample_id", columns, "cards report")


def _figure_html(name: str, drawn: tuple[dict[str, str], dict[str, str]]) -> dict[str, str]:
    plot, legend = drawn
    title = own_words(word(name))
    return {owner: f"<figure><h3>{title}</h3>{svg}{legend.get(owner, '')}</figure>" for owner, svg in plot.items()}


def _sections(parts: Model) -> _Sections:
    return {
        "results_html": _results(parts),
        "rules_html": _rules(parts),
        "instruments_html": _instruments(parts),
        "deviations_html": _deviations(parts),
        "gradation_html": _figure_html("chart.gradation", sample_gradations(parts, None)),
        "density_html": _figure_html("chart.densification", plots.densification(parts, None)),
        "rut_html": _figure_html("chart.rut", plots.rutting(parts, None)),
        "specimens_html": specimen_tables(parts, None, linked=False),
    }


def _facts(frame: pl.DataFrame) -> dict[str, list[tuple[str, str]]]:
    """Return sample -> pairs of head and text."""
    heads = group("head")
    split = frame.partition_by("sample_id", as_dict=True, maintain_order=True)
    return {
        key: [(heads[i], text) for i, text in rows.select("item", "text").iter_rows()] for (key,), rows in split.items()
    }


def _reports(tables: Tables) -> pl.DataFrame:
    """Return the reports to be made, with the texts of their heads."""
    rows = take(tables, "reports").drop_nulls("sample_id").unique("sample_id", keep="last", maintain_order=True)
    return rows.with_columns(
        clipped(pl.coalesce("report_no", "sample_id"), 160).alias("number"),
        moment(pl.col("issued_at")).alias("issued"),
        moment(pl.col("figures_at")).alias("figures"),
    )


def _former(tables: Tables) -> dict[str, str]:
    """Return sample -> table of the issues there were before."""
    rows = take(tables, "report_chain").sort("sample_id", "issue_no", maintain_order=True)
    rows = rows.with_columns(
        clipped(pl.col("report_no"), 160).alias("number"), day(pl.col("issued_at")).alias("issued")
    )
    columns = {
        word("report.number"): "<bdi>{number}</bdi>",
        word("report.issued"): "{issued}",
        word("head.reason"): "<bdi>{reason}</bdi>",
    }
    return tables_by_owner(rows.drop_nulls("sample_id"), "sample_id", columns, "cards report")


#: Field of an entry that no head is named like -> the text it is told by.
_FIELDS = {"rule": "report.rule", "source": "mix_page.source", "used": "head.used_on", "until": "head.due"}


def _changes(tables: Tables) -> dict[str, str]:
    """Return report -> table of what changed since the one it replaces."""
    fields = group("head") | {field: word(name) for field, name in _FIELDS.items()}
    none = pl.lit(word("report.not_shown"))
    rows = take(tables, "report_changes").with_columns(
        pl.col("item").replace(fields).alias("item"),
        pl.col("field").replace(fields).alias("field"),
        clipped(pl.col("before").fill_null(none), 300).alias("before"),
        clipped(pl.col("after").fill_null(none), 300).alias("after"),
    )
    columns = {
        word("report.changed"): '<bdi>{item}</bdi> <span class="small">{field}</span>',
        word("report.before"): "<bdi>{before}</bdi>",
        word("report.after"): "<bdi>{after}</bdi>",
        word("report.why"): '<span class="small"><bdi>{why}</bdi></span>',
    }
    return tables_by_owner(rows.drop_nulls("report_no"), "report_no", columns, "cards report")


def _running(sample: dict[str, Any], report: dict[str, Any]) -> str:
    """Return the style of what stands on every printed page: laboratory, number, page x of y."""
    size = "letter" if current().units == "us" else "A4"
    left = css_string(sample["laboratory"][:90])
    right = css_string(f"{word('report.title')} {report['number'][:60]}")
    page, of = css_string(word("report.page") + " "), css_string(f" {word('report.of')} ")
    return (
        f"@page{{size:{size};margin:18mm 14mm 17mm;"
        f"@top-left{{content:{left}}}@top-right{{content:{right}}}"
        f"@bottom-right{{content:{page} counter(page) {of} counter(pages)}}}}"
    )


def report_pages(tables: Tables) -> Iterator[tuple[str, bytes]]:
    """Yield slug and page of every report of the table `reports`.

    Parameters
    ----------
    tables
        The tables handed in, those of `verbs.tables.REPORT_TABLES` included.
    """
    reports = _reports(tables)
    parts = model(of_samples(tables, reports["sample_id"].to_list()))
    sections, said = _sections(parts), leads(parts)
    about, chain = _facts(content.identification(parts)), _facts(content.chain(parts))
    former, changes = _former(tables), _changes(tables)
    known = set(parts.samples["sample_id"].to_list())
    for report in reports.iter_rows(named=True):
        name = report["sample_id"]
        if name not in known:
            continue
        facts = about.get(name, [])
        laboratory = next((text for head, text in facts if head == word("head.laboratory")), "")
        filled = {section: by_owner.get(name, "") for section, by_owner in sections.items()}
        running = _running({"laboratory": laboratory}, report)
        yield (
            slug(report["report_no"] or name),
            page(
                "report.html",
                as_of(tables),
                report=report,
                laboratory=laboratory,
                lead=said.get(name, word("nothing.judged" if filled["results_html"] else "report.no_results")),
                governed=any(head == word("head.specification") for head, _ in facts),
                about=facts,
                chain=chain.get(name, []),
                former_html=former.get(name, ""),
                changes_html=changes.get(report["report_no"], ""),
                running_html=style_of("report.css") + running,
                customary=current().units == "us",
                **filled,
            ),
        )
