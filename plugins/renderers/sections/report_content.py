"""What a sample report says, as plain text: the page is made of it, and so are the entries an issue is kept with."""

import polars as pl

from plugins.renderers.sections.model import Model
from plugins.renderers.sections.trace import method_titles
from plugins.renderers.verbs.figures import fixed, plain, reported
from plugins.renderers.verbs.markup import clipped
from plugins.renderers.verbs.presentation import current, day, length_unit, moment
from plugins.renderers.verbs.results import flag_sentences, limited_first, named
from plugins.renderers.verbs.tables import RESULT_KEY, take
from plugins.renderers.verbs.verdicts import verdict_words
from plugins.renderers.verbs.words import defined, filled, word
from schemas.units import CUSTOMARY, SIEVE_DESIGNATIONS, conversion
from schemas.vocabulary import CalibrationState, DecisionRule

#: Characters of a label, and of a sentence, that are shown.
_LABEL, _SENTENCE = 160, 600
_SPECIMEN_KEY = ["sample_id", "method", "specimen_no", "property", "point"]


def _long(frame: pl.DataFrame, texts: dict[str, pl.Expr]) -> pl.DataFrame:
    """Return one row per head: sample_id, item (a name of the group `head`), text; heads without text are left out."""
    wide = frame.select("sample_id", *(clipped(text, _LABEL).alias(name) for name, text in texts.items()))
    order = {name: place for place, name in enumerate(texts)}
    return (
        wide.unpivot(index="sample_id", variable_name="item", value_name="text")
        .drop_nulls("text")
        .filter(pl.col("text") != "")
        .sort("sample_id", pl.col("item").replace_strict(order, return_dtype=pl.Int64), maintain_order=True)
    )


def _tonnage() -> pl.Expr:
    if current().units == "us":
        factor, _ = conversion("t", CUSTOMARY["t"])
        return pl.concat_str(fixed(pl.col("tonnage_t") * factor, pl.lit(0)), pl.lit(" " + CUSTOMARY["t"]))
    return pl.concat_str(plain(pl.col("tonnage_t")), pl.lit(" t"))


def _size() -> pl.Expr:
    size = pl.col("nmas_mm")
    if current().units == "us":
        factor, _ = conversion("mm", length_unit())
        other = pl.concat_str(fixed(size * factor, pl.lit(3)), pl.lit(" " + length_unit()))
        return pl.coalesce(size.replace_strict(SIEVE_DESIGNATIONS, default=None, return_dtype=pl.String), other)
    return pl.concat_str(plain(size), pl.lit(" mm"))


def identification(parts: Model) -> pl.DataFrame:
    """Return what was tested, for whom and by whom: sample_id, item, text."""
    tables = parts.tables
    projects = take(tables, "projects").unique("project_id", keep="first")
    laboratories = projects.select("laboratory_id", "laboratory_name").drop_nulls().unique("laboratory_id")
    sets = take(tables, "specifications").unique("set_id", keep="first").with_columns(
        pl.concat_str(pl.coalesce("title", "set_id"), "set_version", separator=", ", ignore_nulls=True).alias("spec")
    )  # fmt: skip
    rows = (
        parts.samples.join(projects.select("project_id", "client", "set_id"), on="project_id", how="left")
        .join(laboratories, on="laboratory_id", how="left")
        .join(sets.select("set_id", "spec", "agency"), on="set_id", how="left")
    )
    revision = filled("head.revision", revision=pl.col("revision"))
    mix = pl.concat_str("mix_id", revision, separator=", ", ignore_nulls=True)
    texts = {
        "laboratory": pl.concat_str("laboratory_name", "laboratory_id", separator=", ", ignore_nulls=True),
        "project": pl.concat_str("project_name", "project_id", separator=", ", ignore_nulls=True),
        "client": pl.col("client"),
        "specification": pl.coalesce("spec", "set_id"),
        "agency": pl.col("agency"),
        "mix": mix,
        "plant": pl.col("plant"),
        "nmas": _size(),
        "binder_grade": pl.col("binder_grade"),
        "sample": pl.col("sample_id"),
        "material": pl.col("material"),
        "phase": pl.col("phase"),
        "lot": pl.concat_str("lot", "sublot", separator=" / ", ignore_nulls=True),
        "place": pl.col("place"),
        "tonnage": _tonnage(),
    }
    return _long(rows, texts)


def chain(parts: Model) -> pl.DataFrame:
    """Return the days from sampling to the last test: sample_id, item, text."""
    read = take(parts.tables, "chain").unique("sample_id", keep="first")
    texts = {
        "taken": day(pl.col("taken_on")),
        "tested_first": moment(pl.col("first_tested_at")),
        "tested_last": moment(pl.col("last_tested_at")),
        "arrived": filled("text.utc", moment=moment(pl.col("arrived_at"))),
    }
    return _long(parts.samples.join(read, on="sample_id", how="left", maintain_order="left"), texts)


def results(parts: Model) -> pl.DataFrame:
    """Return every result: `verbs.results.results` with figure (or why there is none), method_text, limited first."""
    held = pl.concat_str(pl.lit(word("deviation.withheld")), pl.col("withheld").fill_null(word("text.none")))
    rows = limited_first(parts.results, "sample_id").with_columns(
        pl.coalesce("shown", held).alias("figure"),
        pl.concat_str("standard", "section", separator=", ", ignore_nulls=True).alias("method_text"),
    )
    return rows.sort("sample_id", maintain_order=True)


def limits(parts: Model) -> pl.DataFrame:
    """Return every limit held against a result: judgements with limit, verdict_text, rule_text."""
    rules = {str(rule.value): defined(rule) for rule in DecisionRule}
    guard = pl.when(pl.col("guard") > 0).then(
        pl.concat_str(pl.lit(" (± "), fixed(pl.col("guard"), pl.col("decimals") + 1), pl.lit(")"))
    )
    rule = pl.coalesce("decision_rule", pl.lit(DecisionRule.SIMPLE.value))
    said = rule.replace_strict(rules, default=rule, return_dtype=pl.String)
    return parts.judged.with_columns(
        verdict_words().alias("verdict_text"), pl.concat_str(said, guard, ignore_nulls=True).alias("rule_text")
    )


def instruments(parts: Model) -> pl.DataFrame:
    """Return every instrument a sample went over, with its calibration, all columns text."""
    states = {str(state.value): defined(state) for state in CalibrationState}
    rows = take(parts.tables, "sample_instruments")
    rows = rows.join(method_titles(rows["method"]), on="method", how="left", maintain_order="left")
    span = pl.when(pl.col("first_on") == pl.col("last_on")).then(day(pl.col("first_on")))
    several = pl.concat_str(day(pl.col("first_on")), pl.lit(" – "), day(pl.col("last_on")))
    return rows.select(
        "sample_id",
        *(clipped(pl.col(name), _LABEL).alias(name) for name in ("instrument_id", "kind")),
        clipped(pl.coalesce("method_title", "method"), _LABEL).alias("used_for"),
        span.otherwise(several).alias("used_on"),
        day(pl.col("calibrated_on")).alias("calibrated"),
        day(pl.col("due_on")).alias("due"),
        "state",
        pl.col("state").replace_strict(states, default=pl.col("state"), return_dtype=pl.String).alias("state_text"),
    )


def specimens(parts: Model) -> pl.DataFrame:
    """Return every figure of a specimen: keys, title, shown."""
    rows = named(take(parts.tables, "specimen_values"), parts.naming)
    shown = pl.coalesce(reported(pl.col("text")), fixed(pl.col("value"), pl.col("decimals")))
    held = pl.concat_str(pl.lit(word("deviation.withheld")), pl.col("withheld").fill_null(word("text.none")))
    return rows.with_columns(pl.coalesce(shown, held).alias("shown")).sort(
        _SPECIMEN_KEY, nulls_last=True, maintain_order=True
    )


def deviations(parts: Model) -> pl.DataFrame:
    """Return flags, withheld figures, missing tests and refusals: sample_id, why, what it concerns, source.

    One row per sentence: what concerns several figures is said once.
    """
    empty = pl.lit(None, pl.String)
    flagged = []
    for rows, key in ((results(parts), RESULT_KEY), (specimens(parts), _SPECIMEN_KEY)):
        told = flag_sentences(rows, parts.tables, [*key])
        about = rows.select(*key, _about(key).alias("what")).unique(key, keep="first", maintain_order=True)
        joined = told.join(about, on=key, how="left", nulls_equal=True, maintain_order="left")
        why = pl.concat_str("sentence", "limit_text", separator=" ", ignore_nulls=True)
        flagged.append(joined.select("sample_id", "what", why.alias("why"), "source"))
        held = rows.filter(pl.col("withheld").is_not_null())
        why = pl.concat_str(pl.lit(word("deviation.withheld")), "withheld").alias("why")
        flagged.append(held.select("sample_id", _about(key).alias("what"), why, empty.alias("source")))
    missing = named(take(parts.tables, "missing"), parts.naming)
    why = pl.concat_str(pl.lit(word("deviation.missing")), "reason").alias("why")
    flagged.append(missing.select("sample_id", pl.col("title").alias("what"), why, empty.alias("source")))
    refused = take(parts.tables, "refusals").drop_nulls("sample_id")
    why = pl.concat_str(pl.lit(word("deviation.refused")), "reason").alias("why")
    where = pl.concat_str("file_name", "place", separator=", ", ignore_nulls=True).alias("what")
    flagged.append(refused.select("sample_id", where, why, empty.alias("source")))
    rows = (
        pl.concat(flagged).with_columns(pl.col("what", "why").fill_null(word("text.none"))).unique(maintain_order=True)
    )
    told = rows.group_by("sample_id", "why", maintain_order=True).agg(
        pl.col("what").unique(maintain_order=True).str.join("; "), pl.col("source").drop_nulls().first()
    )
    return told.with_columns(clipped(pl.col(name), _SENTENCE).alias(name) for name in ("what", "why", "source"))


def _about(key: list[str]) -> pl.Expr:
    """Return what a row is about: the result's title, with its specimen where it is one's."""
    if "specimen_no" not in key:
        return pl.col("title")
    return pl.concat_str("title", pl.format(" ({})", clipped(pl.col("specimen_no"), 40)), ignore_nulls=True)
