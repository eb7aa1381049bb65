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

FORMULA = Description(
    "formula",
    "Formulas behind the figures, those of earlier versions of the program included.",
    (
        column("formula_version", _TEXT, "Hash of the formula's declaration; figures carry it."),
        column("property", _TEXT, "Property it gives, by its registry name."),
        column("level", _TEXT, "Specimen or sample."),
        column("route", _TEXT, "Name of this way to the property."),
        column("standard", _TEXT, "Standard it stands in.", nullable=True),
        column("section", _TEXT, "Section of the standard.", nullable=True),
        column("equation", _TEXT, "Equation as readers see it.", nullable=True),
        column("precision", _TEXT, "Precision statement of the method.", nullable=True),
        column("precision_mark", _TEXT, "How far that was confirmed; null is seen in print.", nullable=True),
    ),
    Ties(key=("formula_version", "property", "level", "route")),
    False,
)

FORMULA_INPUT = Description(
    "formula_input",
    "What each formula takes in: figures, or columns of records.",
    (
        column("formula_version", _TEXT, "Hash of the formula's declaration."),
        column("property", _TEXT, "Property the formula gives."),
        column("route", _TEXT, "Name of this way to the property."),
        column("input", _TEXT, "Input, by its registry name."),
        column("kind", _TEXT, "figure, or record."),
        column(
            "reach",
            _TEXT,
            "Whose figure or row: of the same specimen, of all specimens of the sample, of the sample, or of the lot.",
        ),
        column("input_method", _TEXT, "Method whose specimens the figures averaged are of.", nullable=True),
        column("input_point", pl.Float64(), "Sieve or passes of the one figure taken; null if any.", nullable=True),
        column("record", _TEXT, "Record it is read from; null for a figure.", nullable=True),
        column("column_name", _TEXT, "Column of the record; null for a figure or a whole series.", nullable=True),
        column("role", _TEXT, "Role of the mass, where it is one.", nullable=True),
    ),
    Ties(key=("formula_version", "property", "route", "input", "reach", "record", "column_name", "role")),
    False,
)

RECORD_CHANGE = Description(
    "record_change",
    "Corrections: every row of a record that counted once and no longer does, with what differs now.",
    (
        column("run_id", _WHOLE, "Run from which it no longer counted."),
        column("record", _TEXT, "Record the row belongs to: the table that holds it in full."),
        column("record_key", _TEXT, "What identifies it within the record, in words."),
        column("sample_id", _TEXT, "Sample it is about.", nullable=True),
        column("specimen_no", _TEXT, "Specimen it is about.", nullable=True),
        column("mix_id", _TEXT, "Mix it is about.", nullable=True),
        column("revision", _WHOLE, "Revision of the mix design it is about.", nullable=True),
        column("project_id", _TEXT, "Project it is about.", nullable=True),
        column("instrument_id", _TEXT, "Instrument it is about.", nullable=True),
        column("change", _TEXT, "What happened: replaced by a later issue, or withdrawn."),
        column(
            "differences", _TEXT, "Columns that differ, each before and after; null if the issues agree.", nullable=True
        ),
        column("export_before", _TEXT, "Export the row came from."),
        column("export_after", _TEXT, "Export its successor came from; null if it was withdrawn.", nullable=True),
    ),
    Ties(key=("run_id", "record", "record_key")),
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

OWN: tuple[Description, ...] = (
    MIGRATION,
    PROPERTY,
    FLAG,
    PROPERTY_COLUMN,
    FORMULA,
    FORMULA_INPUT,
    RECORD_CHANGE,
    SERIES_SAMPLE,
    STATE,
)
