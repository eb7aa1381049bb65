"""What a row of a record is about, whatever the record: key in words, sample, specimen, mix, instrument."""

from schemas.describe import Description, describe_all
from schemas.records.traced import Traced
from warehouse import ddl
from warehouse.sql import literal, quoted

#: Who or what a row can be about; a record has some of them.
ALL = ("sample_id", "specimen_no", "mix_id", "revision", "project_id", "instrument_id")

#: Where a row was read.
PROVENANCE = tuple(Traced.to_schema().columns)


def imported() -> list[Description]:
    """Return the imported records kept as tables."""
    return [each for each in describe_all() if each.imported and each.ties.storage == "table"]


def record_with(name: str) -> Description:
    """Return a record that has the column; one name has one type everywhere."""
    return next(each for each in imported() if name in each.schema())


def or_null(description: Description, name: str, prefix: str = "") -> str:
    """Return the term for a column, null where the record has none of that name; the method may be that of all rows."""
    if name in description.schema():
        return f"{prefix}{quoted(name)}"
    if name == "method" and description.ties.method:
        return f"{literal(description.ties.method)} AS method"
    return f"NULL::{ddl.duck_type(record_with(name).schema()[name])} AS {quoted(name)}"


def key_text(description: Description, prefix: str = "") -> str:
    """Return the term for what identifies a row within its record, in words."""
    return f"concat_ws(', ', {', '.join(f'{prefix}{quoted(name)}' for name in description.ties.key)}) AS record_key"
