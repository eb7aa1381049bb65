"""What stands at each place of an export beside the value read from it, with a remark: for people to compare."""

from pathlib import Path

import polars as pl

from plugins.api import CATALOGUE, Export, Importer
from plugins.layout.importer import LayoutImporter
from schemas.units import UnknownUnitError, conversion


def compare(path: Path, importer: Importer | None, rows: int) -> list[dict[str, object]]:
    """Return a row for each field of the first rows of each record: record, place, raw text, field, value, remark.

    Parameters
    ----------
    rows
        Rows of each record to show; header values are shown once, and what is refused always.
    """
    if not isinstance(importer, LayoutImporter):
        return []
    seen = importer.seen(Export.from_path(path))
    if seen.is_empty():
        return []
    by = ["record", "stated_on", "field", "header"]
    shown = pl.int_range(pl.len()).over(by) < pl.when("header").then(1).otherwise(rows)
    first = seen.filter(shown | pl.col("code").is_not_null())
    pairs = first.select("written_in", "unit").drop_nulls().unique().rows()
    same = {written: _same(written, unit) for written, unit in pairs}
    first = first.with_columns(
        pl.col("written_in").replace_strict(same, default=None, return_dtype=pl.Boolean).alias("same")
    )
    ordered = first.with_row_index("row").sort("stated_on", ~pl.col("header"), "part", "line", "row", nulls_last=False)
    part = pl.concat_str(pl.col("part"), pl.lit(", ")).fill_null("")
    at = (
        pl.when(pl.col("at") > 0).then(pl.concat_str(pl.lit("line "), pl.col("at"), pl.lit(", "))).otherwise(pl.lit(""))
    )
    told = ordered.select(
        "record",
        pl.concat_str(part, at, "place").alias("place"),
        "raw",
        "field",
        pl.concat_str(_plain(pl.col("value")), pl.concat_str(pl.lit(" "), "unit").fill_null("")).alias("value"),
        _remark().alias("remark"),
    )
    return told.unique(maintain_order=True).to_dicts()


def _plain(text: pl.Expr) -> pl.Expr:
    """Return a time without the zeros behind its seconds."""
    return text.str.replace(r"(:\d\d)\.0+$", "$1")


def _same(written: str, unit: str) -> bool:
    try:
        return conversion(written, unit) == (1.0, 0.0)
    except UnknownUnitError:
        return True


def _remark() -> pl.Expr:
    titles = {code: f"refused: {entry.title}" for code, entry in CATALOGUE.items()}
    converted = ~pl.col("same").fill_null(True)
    return (
        pl.when(pl.col("code").is_not_null())
        .then(pl.col("code").replace_strict(titles, default="refused"))
        .when(pl.col("raw").is_null())
        .then(pl.lit("absent"))
        .when(converted)
        .then(pl.concat_str(pl.lit("converted from "), "written_in"))
        .when("looked_up")
        .then(pl.lit("looked up"))
        .otherwise(pl.lit(""))
    )
