"""Reads the exports of skeleton: header lines, one table, a closing line. A start: make it your instrument's."""

from collections.abc import Iterable, Iterator, Sequence

import polars as pl

from plugins.api import Export, Importer, Reading, Refusing, TooLargeError, decode, hookimpl, refusals

TITLE = "skeleton export"
DELIMITER = ";"
CLOSING = "end"

#: Column of the export -> column of the record `weighing`.
COLUMNS = {"sample": "sample_id", "specimen": "specimen_no", "role": "role", "mass g": "mass_g"}

#: Header key -> column of the record.
HEADER = {"instrument": "instrument_id", "written": "issued_at"}


class Reader:
    """Importer of the exports of skeleton."""

    name = "skeleton"
    version = "1"
    gives = ("weighing",)

    def claims(self, export: Export) -> str | None:
        """Claim what begins with the title."""
        return f"it starts with '{TITLE}'" if export.head_text.startswith(TITLE) else None

    def read(self, exports: Sequence[Export]) -> Reading:
        """Read a batch: each export becomes a frame of text, and all frames are converted together."""
        frames, refused = [], []
        for export in exports:
            try:
                frames.append(_cells(export))
            except Refusing as refusing:
                refused.append(refusing.row(export.hash))
        if not frames:
            return Reading({}, refusals(refused))
        number = pl.col("mass_g").str.strip_chars().cast(pl.Float64, strict=False)
        rows = pl.concat(frames).with_columns(number.alias("number"))
        bad = rows.filter(pl.col("number").is_null())
        good = rows.filter(pl.col("number").is_not_null()).with_columns(pl.col("number").alias("mass_g"))
        return Reading({"weighing": good.drop("number")}, refusals([*refused, *_not_numbers(bad)]))


def _cells(export: Export) -> pl.DataFrame:
    """Return the rows of one export as text, with their lines; raise `Refusing` for what spoils the whole file."""
    lines = _lines(export)
    heading = next((n for n, line in enumerate(lines) if _has_columns(line)), None)
    if heading is None:
        raise Refusing("missing_column", f"no line names the columns {', '.join(COLUMNS)}; add what is missing")
    names = [name.strip() for name in lines[heading].split(DELIMITER)]
    end = len(lines) - 1
    _check_closing(lines[end], end - heading - 1)
    frame = pl.DataFrame({"text": lines[heading + 1 : end]}, schema={"text": pl.String}).with_columns(
        pl.int_range(heading + 2, end + 1, dtype=pl.Int64).alias("source_line"),
        pl.col("text").str.split(DELIMITER).alias("cells"),
    )
    wrong = frame.filter(pl.col("cells").list.len() != len(names))
    if wrong.height:
        line = wrong["source_line"][0]
        raise Refusing("not_well_formed", f"line {line}: expected {len(names)} cells as in the heading")
    cells = [pl.col("cells").list.get(names.index(name)).alias(target) for name, target in COLUMNS.items()]
    head = _header(lines[:heading])
    return frame.select(
        *cells,
        "source_line",
        pl.lit(export.hash).alias("export_hash"),
        pl.lit("t166").alias("method"),
        pl.lit(head["instrument_id"]).alias("instrument_id"),
        pl.lit(head["issued_at"]).str.to_datetime("%Y-%m-%d %H:%M", time_unit="us").alias("issued_at"),
    )


def _lines(export: Export) -> list[str]:
    try:
        content = export.read()
    except TooLargeError as fault:
        raise Refusing("too_large", f"the file has {fault}") from fault
    if not content.strip(b"\xef\xbb\xbf \t\r\n"):
        raise Refusing("empty", "the file holds nothing but white space")
    try:
        text = decode(content, ("utf-8", "cp1252"))
    except UnicodeDecodeError as fault:
        raise Refusing("undecodable", f"byte {fault.start + 1} belongs to neither UTF-8 nor Windows-1252") from fault
    lines = text.replace("\r\n", "\n").replace("\r", "\n").rstrip("\n").split("\n")
    if not lines[0].startswith(TITLE):
        raise Refusing("not_well_formed", f"line 1: expected '{TITLE}'")
    return lines


def _has_columns(line: str) -> bool:
    return set(COLUMNS) <= {name.strip() for name in line.split(DELIMITER)}


def _check_closing(line: str, rows: int) -> None:
    mark, _, declared = line.partition(DELIMITER)
    if mark != CLOSING or declared.strip(f"{DELIMITER} ") != str(rows):
        raise Refusing("truncated", f"expected the closing line '{CLOSING}{DELIMITER}{rows}', found '{line[:60]}'")


def _header(lines: Sequence[str]) -> dict[str, str]:
    found = {key.strip(): value.strip() for key, _, value in (line.partition(":") for line in lines)}
    for key in HEADER:
        if not found.get(key):
            raise Refusing("missing_field", f"the header lacks '{key}: …'", column_name=key)
    try:
        pl.Series([found["written"]]).str.to_datetime("%Y-%m-%d %H:%M")
    except pl.exceptions.PolarsError as fault:
        reason = f"'written' is '{found['written'][:40]}'; expected a date such as 2026-05-07 17:40"
        raise Refusing("not_a_date", reason, column_name="written") from fault
    return {target: found[key] for key, target in HEADER.items()}


def _not_numbers(rows: pl.DataFrame) -> Iterator[dict[str, object]]:
    for export_hash, line, text in rows.select("export_hash", "source_line", "mass_g").iter_rows():
        reason = f"column 'mass g' is '{text[:60]}'; expected a number with a decimal point"
        place = {"source_line": line, "record": "weighing", "column_name": "mass g", "found": text[:200]}
        yield Refusing("not_a_number", reason, **place).row(export_hash)


@hookimpl
def mixledger_importers() -> Iterable[Importer]:
    """Offer the importer."""
    return [Reader()]
