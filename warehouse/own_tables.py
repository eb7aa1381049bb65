"""Tables the warehouse keeps for itself, described in the same form as the records."""

import polars as pl

from schemas.describe import ColumnDescription, Description
from schemas.keys import Ties


def column(name: str, dtype: pl.DataType, sentence: str, *, nullable: bool = False) -> ColumnDescription:
    """Describe a column that has neither unit, bounds nor vocabulary."""
    return ColumnDescription(name, dtype, sentence, None, nullable, None, None, None, None, None)


_TEXT, _WHOLE = pl.String(), pl.Int64()

#: What every imported record has in the store besides its own columns.
VALIDITY: tuple[ColumnDescription, ...] = (
    column("valid_from_run", _WHOLE, "Run from which the row counted."),
    column("valid_to_run", _WHOLE, "Run from which it no longer counted; null while current.", nullable=True),
    column("superseded_by", _TEXT, "Export whose row took its place; null if none did.", nullable=True),
    column(
        "withdrawn_run",
        _WHOLE,
        "Run from which it can no longer become current: its export was read again without it, or it was "
        "entered anew because what had superseded it fell away; null otherwise.",
        nullable=True,
    ),
)

MIGRATION = Description(
    "migration",
    "Migrations the store has been through.",
    (
        column("number", _WHOLE, "Number of the migration."),
        column("name", _TEXT, "Name of the migration."),
        column("applied_at", pl.Datetime("us"), "When it was applied, UTC."),
    ),
    Ties(key=("number",)),
    False,
)

PROPERTY = Description(
    "property",
    "Catalogue of the properties: what each figure is, by the registry of formulas.",
    (
        column("property", _TEXT, "Registry name of the property."),
        column("symbol", _TEXT, "Symbol as the standard writes it.", nullable=True),
        column("name", _TEXT, "Name in words."),
        column("unit", _TEXT, "Unit of the figure; null for a plain number.", nullable=True),
        column("decimals", _WHOLE, "Decimals it is reported with.", nullable=True),
        column("standard", _TEXT, "Standard it is computed by.", nullable=True),
        column("section", _TEXT, "Section of the standard.", nullable=True),
        column("equation", _TEXT, "Equation in words and symbols.", nullable=True),
        column("level", _TEXT, "Level at which it is computed.", nullable=True),
    ),
    Ties(key=("property",)),
    False,
)

FLAG = Description(
    "flag",
    "Catalogue of the validity flags that a figure can carry.",
    (
        column("code", _TEXT, "Code of the flag."),
        column("sentence", _TEXT, "What it means."),
        column("limit_text", _TEXT, "Limit that was not kept, in words.", nullable=True),
        column("source", _TEXT, "Where that limit stands.", nullable=True),
    ),
    Ties(key=("code",)),
    False,
)

PROPERTY_COLUMN = Description(
    "property_column",
    "Columns of the wide view of sample results.",
    (
        column("property", _TEXT, "Registry name of the property."),
        column("point", pl.Float64(), "Sieve opening in mm, gyrations or passes; null if it has none.", nullable=True),
        column("column_name", _TEXT, "Column that shows it."),
        column("sentence", _TEXT, "What the column shows."),
        column("unit", _TEXT, "Unit of the column; null for a plain number.", nullable=True),
    ),
    Ties(key=("column_name",)),
    False,
)

SERIES_SAMPLE = Description(
    "series_sample",
    "Which part of a computed long series holds the rows of a sample.",
    (
        column("record", _TEXT, "Record whose rows it holds."),
        column("sample_id", _TEXT, "Sample the rows describe."),
        column("file", _TEXT, "Part that holds them."),
        column("valid_from_run", _WHOLE, "Run that computed them."),
        column("valid_to_run", _WHOLE, "Run that replaced them; null while current.", nullable=True),
    ),
    Ties(key=("record", "sample_id", "valid_from_run")),
    False,
)

STATE = Description(
    "store_state",
    "What the store remembers of itself.",
    (column("name", _TEXT, "Name of the value."), column("value", _TEXT, "The value.")),
    Ties(key=("name",)),
    False,
)

OWN: tuple[Description, ...] = (MIGRATION, PROPERTY, FLAG, PROPERTY_COLUMN, SERIES_SAMPLE, STATE)
