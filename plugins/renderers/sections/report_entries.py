"""What a report shows, entry by entry: what an issue is kept with, and what tells whether it has to be issued again."""

import polars as pl

from plugins.renderers.sections import report_content as content
from plugins.renderers.sections.model import Model, model
from plugins.renderers.verbs.presentation import Presentation, shown_as
from plugins.renderers.verbs.results import Tables
from plugins.renderers.verbs.tables import of_samples
from schemas.vocabulary import ReportPart

ENTRY = ["sample_id", "part", "item", "field", "text"]


def entries(tables: Tables, samples: frozenset[str] | None) -> pl.DataFrame:
    """Return the entries of every sample's report: sample_id, part, item, field, text, in the order of the page.

    Parameters
    ----------
    tables
        The tables in stored units: entries do not depend on how a workspace shows its pages.
    samples
        Samples; None is all.
    """
    with shown_as(Presentation()):
        parts = model(of_samples(tables, samples))
        made = [*_heads(parts), *_results(parts), _specimens(parts), *_instruments(parts), _deviations(parts)]
    return pl.concat([frame.select(ENTRY) for frame in made]).sort("sample_id", maintain_order=True)


def _heads(parts: Model) -> list[pl.DataFrame]:
    none = pl.lit(None, pl.String).alias("field")
    # When an export arrived here is of this machine, not of the test.
    chain = content.chain(parts).filter(pl.col("item") != "arrived")
    said = {ReportPart.IDENTIFICATION: content.identification(parts), ReportPart.CHAIN: chain}
    return [frame.with_columns(none, pl.lit(part.value).alias("part")) for part, frame in said.items()]


def _fields(frame: pl.DataFrame, part: ReportPart, fields: dict[str, str]) -> pl.DataFrame:
    """Return one row per field that has text, of columns sample_id, item and those of `fields` (name -> column)."""
    wide = frame.with_row_index("place").select(
        "place", "sample_id", "item", *(pl.col(c).cast(pl.String).alias(n) for n, c in fields.items())
    )
    order = {name: place for place, name in enumerate(fields)}
    long = wide.unpivot(index=["place", "sample_id", "item"], variable_name="field", value_name="text").drop_nulls(
        "text"
    )
    sorted_ = long.sort("place", pl.col("field").replace_strict(order, return_dtype=pl.Int64), maintain_order=True)
    return sorted_.with_columns(pl.lit(part.value).alias("part"))


def _results(parts: Model) -> list[pl.DataFrame]:
    item = pl.col("title").alias("item")
    figures = {"figure": "figure", "unit": "unit", "uncertainty": "doubt", "method": "method_text"}
    held = {"limit": "limit", "verdict": "verdict_text", "rule": "rule_text", "reason": "reason", "source": "source"}
    judged = content.limits(parts).sort("sample_id", "property", "point", "limit_id", maintain_order=True)
    named = judged.with_columns(pl.format("{} [{}]", "title", "limit_id").alias("item"))
    return [
        _fields(content.results(parts).with_columns(item), ReportPart.RESULT, figures),
        _fields(named, ReportPart.LIMIT, held),
    ]


def _specimens(parts: Model) -> pl.DataFrame:
    item = pl.concat_str("method", "specimen_no", "title", separator=" ", ignore_nulls=True).alias("item")
    return _fields(content.specimens(parts).with_columns(item), ReportPart.SPECIMEN, {"figure": "shown"})


def _instruments(parts: Model) -> list[pl.DataFrame]:
    item = pl.concat_str("instrument_id", "used_for", separator=": ", ignore_nulls=True).alias("item")
    fields = {"kind": "kind", "used": "used_on", "calibrated": "calibrated", "until": "due", "state": "state_text"}
    return [_fields(content.instruments(parts).with_columns(item), ReportPart.INSTRUMENT, fields)]


def _deviations(parts: Model) -> pl.DataFrame:
    rows = content.deviations(parts)
    return _fields(rows.with_columns(item="why"), ReportPart.DEVIATION, {"concerns": "what"})
