"""Tables -> bytes of a workbook, of CSV, of JSON: no text ever becomes a formula, numbers stay numbers."""

import datetime as dt
import io
import json
import math
import re
from collections.abc import Mapping
from typing import Any

import polars as pl

#: Characters by which a spreadsheet takes a field of a CSV file for a formula, or loses the start of a field.
_LEADS = "=+-@\t\r\n＝＋－＠"
#: What may stand before such a character and be taken away by what reads the file: spaces, and marks without width.
_UNSEEN = r"[\s\p{Z}\p{Cf}]"
#: What XML, and so a workbook, cannot hold.
_UNFIT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff\ud800-\udfff]")
#: Characters a cell of a workbook may hold.
_CELL = 32_767
#: Counts up when a field of the JSON changes its name, meaning or type, or goes; new fields may come without.
JSON_VERSION = 1


def xlsx(tables: Mapping[str, pl.DataFrame]) -> bytes:
    """Return a workbook with a sheet per table; every text is written as text, whatever it starts with."""
    import xlsxwriter

    out = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(out, options) as book:
        # The same tables give the same bytes: no clock.
        book.set_properties({"title": "mixledger", "created": dt.datetime(2000, 1, 1)})
        heads, day = book.add_format({"bold": True}), book.add_format({"num_format": "yyyy-mm-dd"})
        for name, frame in tables.items():
            sheet = book.add_worksheet(name)
            sheet.freeze_panes(1, 0)
            sheet.autofilter(0, 0, max(frame.height, 1), max(frame.width - 1, 0))
            for place, (column, kind) in enumerate(frame.schema.items()):
                sheet.write_string(0, place, column, heads)
                sheet.set_column(place, place, min(40, max(10, len(column) + 2)))
                _column(sheet, place, frame[column], kind, day)
    return out.getvalue()


def _column(sheet: Any, place: int, values: pl.Series, kind: pl.DataType, day: Any) -> None:
    """Write the cells of a column, each as what it is; null leaves its cell empty."""
    for row, value in enumerate(values.to_list(), start=1):
        if value is None or (isinstance(value, float) and not math.isfinite(value)):
            continue
        if isinstance(value, bool):
            sheet.write_boolean(row, place, value)
        elif kind.is_numeric():
            sheet.write_number(row, place, value)
        elif isinstance(value, dt.date) and value.year >= 1900:
            sheet.write_datetime(row, place, value, day)
        else:
            sheet.write_string(row, place, _UNFIT.sub("\ufffd", str(value))[:_CELL])


def csv(frame: pl.DataFrame) -> bytes:
    """Return a table as CSV in UTF-8 with byte-order mark, comma and decimal point.

    A text that a spreadsheet would take for a formula gets an apostrophe in front: it is then shown as the text it is.
    Numbers are never touched.
    """
    texts = [name for name, kind in frame.schema.items() if kind == pl.String]
    leads = re.escape(_LEADS)
    safe = frame.with_columns(
        pl.when(pl.col(name).str.contains(rf"^{_UNSEEN}*[{leads}]"))
        .then(pl.concat_str(pl.lit("'"), name))
        .otherwise(name)
        .alias(name)
        for name in texts
    )
    return safe.write_csv(include_bom=True).encode("utf-8")


def summary_json(tables: Mapping[str, pl.DataFrame]) -> bytes:
    """Return the summary for other systems.

    An object with `format` ("mixledger.summary"), `version` (`JSON_VERSION`), `about`, and `projects`: a list of
    objects with project_id, project_name, client, laboratory_id, `summary` (a row per result: property, point, result,
    symbol, unit, n, mean, s, least, largest, limits, pass_n, fail_n, left_out_n, flagged_n), `results` (the columns of
    the sheet of that name) and `lots`. Figures are numbers as they are reported, days ISO 8601; what is not
    known is null.
    """
    own = ("project_id", "project_name", "client", "laboratory_id")
    split = {name: _by_project(tables[name]) for name in ("summary", "results", "lots")}
    # Every project of the register, also one without results, and those that only a sample names.
    named = pl.concat([tables["projects"].select(own), tables["summary"].select(own)])
    heads = named.unique("project_id", keep="first", maintain_order=True).sort("project_id")
    projects = [
        {
            **row,
            "summary": [_without(each, own) for each in split["summary"].get(row["project_id"], [])],
            "results": [_without(each, own[:2]) for each in split["results"].get(row["project_id"], [])],
            "lots": [_without(each, own[:1]) for each in split["lots"].get(row["project_id"], [])],
        }
        for row in heads.iter_rows(named=True)
    ]
    about = {row["name"]: row["value"] for row in tables["about"].iter_rows(named=True)}
    whole = {"format": "mixledger.summary", "version": JSON_VERSION, "about": about, "projects": projects}
    return (json.dumps(whole, ensure_ascii=False, allow_nan=False, default=str, indent=1) + "\n").encode()


def _by_project(frame: pl.DataFrame) -> dict[Any, list[dict[str, Any]]]:
    floats = [name for name, kind in frame.schema.items() if kind.is_float()]
    finite = frame.with_columns(pl.when(pl.col(name).is_finite()).then(pl.col(name)).alias(name) for name in floats)
    parts = finite.partition_by("project_id", as_dict=True, maintain_order=True)
    return {key: rows.to_dicts() for (key,), rows in parts.items()}


def _without(row: Mapping[str, Any], names: tuple[str, ...]) -> dict[str, Any]:
    return {name: value for name, value in row.items() if name not in names}
