# ruff: noqa: RUF009 - a call of `key` gives a field of the dataclass, as `dataclasses.field` does
"""The layout language: every section and key with its meaning, from which reading, checks and reference page come."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from plugins.layout.keys import Scalar, UnitPlace, key

Kind = Literal["delimited", "fixed", "slip", "json", "toml", "xml", "workbook", "sqlite"]
KINDS: tuple[str, ...] = ("delimited", "fixed", "slip", "json", "toml", "xml", "workbook", "sqlite")

#: Kinds that are text cut into header lines and tables.
LINES: tuple[str, ...] = ("delimited", "fixed")

#: Name under which the values that hold for a whole export are kept; no table may bear it.
HEADER = "header"

#: Name of the one table of a slip: a row for each block.
BLOCK = "block"

#: Header keys the engine fills: the text after a table's end mark, and the name of the file.
END_KEY = "(end)"
FILE_KEY = "(file name)"

#: Delimiter that stands for any run of white space.
BLANKS = "blanks"

_DATETIMES = ("%Y-%m-%dT%H:%M:%S%.f", "%Y-%m-%d %H:%M:%S%.f", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M")


@dataclass(frozen=True)
class Recognition:
    """What the start of an export must show. Everything stated must hold, and no other layout may claim the file."""

    starts: str | None = key("Text the export starts with.", default=None, example='"DENSITY BATH"')
    contains: tuple[str, ...] = key(
        "Texts that stand in the first 8,192 bytes; white space does not count.", default=(), example='["STATION"]'
    )
    sheets: tuple[str, ...] = key("Sheets the workbook has.", default=(), kinds=("workbook",), example='["Weighings"]')
    tables: tuple[str, ...] = key("Tables the database has.", default=(), kinds=("sqlite",), example='["runs"]')
    file_name: str | None = key(
        "Pattern the name of the file must match; only to tell exports apart that have nothing else.",
        default=None,
        example="'^bath-.*\\.txt$'",
    )


@dataclass(frozen=True)
class Clock:
    """Where the clock of the instrument does not keep the time of the laboratory. Stored times are the laboratory's."""

    written: str = key("Time zone the export writes, by its name in the tz database.", example='"UTC"')
    laboratory: str = key("Time zone of the laboratory.", example='"Europe/Berlin"')


@dataclass(frozen=True)
class Writing:
    """How the export writes text, numbers and dates."""

    encodings: tuple[str, ...] = key(
        "Encodings tried in turn; a byte-order mark goes before them.",
        default=("utf-8",),
        example='["utf-8", "cp1252"]',
    )
    decimal: str = key("Decimal mark.", default=".", words=(".", ","))
    thousands: str | None = key(
        "Mark between groups of three digits; without it such a number is refused.", default=None, example='"."'
    )
    quote: str | None = key(
        "Mark around cells that hold the delimiter; doubled inside it stands for itself.",
        default=None,
        kinds=("delimited",),
        example="'\"'",
    )
    comment: tuple[str, ...] = key(
        "Lines that start so are passed over.", default=(), kinds=(*LINES, "slip"), example='"#"'
    )
    absent: tuple[str, ...] = key(
        "Texts that say that there is no value (sentinels), beside the empty cell.",
        default=(),
        example='["---", "-999"]',
    )
    datetimes: tuple[str, ...] = key(
        "Forms of a date with time, tried in turn.", default=_DATETIMES, example='["%d.%m.%Y %H:%M"]'
    )
    dates: tuple[str, ...] = key("Forms of a date.", default=("%Y-%m-%d",), example='["%d/%m/%Y"]')
    clock: Clock | None = key("Time zones, where the clock is not the laboratory's.", default=None)
    final_newline: bool = key(
        "Whether an export without a line break at its end was cut off.", default=False, kinds=(*LINES, "toml")
    )


@dataclass(frozen=True)
class BlockPlan:
    """How one export falls into blocks, one for each specimen: each is read as an export of its own would be."""

    rule: str | None = key("Start of the line that opens and closes a slip.", default=None, kinds=("slip",))
    starts: str | None = key(
        "Start of the line each block begins with; header lines before the first hold for all.",
        default=None,
        kinds=LINES,
        example='"SPECIMEN"',
    )
    sheets: str | None = key(
        "Pattern of the sheets that are a block each; tables and cells without a sheet are sought in each of them.",
        default=None,
        kinds=("workbook",),
        example="'^Specimen '",
    )


@dataclass(frozen=True)
class SettingsTable:
    """Table of a database with a name and a value in each row, read as header values."""

    table: str = key("Name of the table.", example='"about"')
    name: str = key("Column with the names.", example='"name"')
    value: str = key("Column with the values.", example='"value"')


@dataclass(frozen=True)
class HeaderPlan:
    """Where the values stand that hold for the whole export (or block)."""

    separator: str = key("What parts key and value of a header line.", default="=", kinds=LINES)
    values: int = key("Values on a header line.", default=1, kinds=LINES)
    patterns: dict[str, str] = key(
        "Header key = pattern whose one group is its value; the first line that matches counts.",
        factory=dict,
        kinds=LINES,
        example="{ Sample = '^SAMPLE (\\S+)' }",
    )
    cells: dict[str, str] = key(
        "Header key = cell of the workbook.", factory=dict, kinds=("workbook",), example='{ Written = "About!B2" }'
    )
    settings: SettingsTable | None = key("Table of names and values.", default=None, kinds=("sqlite",))


@dataclass(frozen=True)
class Declared:
    """Where the export says how many rows a table has; another number means that it was cut off."""

    header: str | None = key("Header key with the number.", default=None)
    end: bool = key("Whether the number stands behind the table's end mark.", default=False)
    plus: int = key("Rows there are beyond the number.", default=0)

    @property
    def key(self) -> str:
        """Return the header key under which the number is kept."""
        return END_KEY if self.end else self.header or ""


@dataclass(frozen=True)
class Gather:
    """Columns of one meaning, brought from side by side (wide) to below each other (long)."""

    columns: str = key("Pattern of the columns; its one group is kept.", example="'^on ([\\d.]+) mm$'")
    name: str = key("Column that then holds the group.", example='"opening"')
    value: str = key("Column that then holds the cell.", example='"grams"')


@dataclass(frozen=True)
class TablePlan:
    """One table of the export. Its columns are named by the heading as it stands there."""

    name: str
    heading: str | None = key(
        "Text the heading line starts with; in a workbook the first cell of the heading row (without it: row 1).",
        default=None,
        kinds=(*LINES, "workbook"),
        example='"No;"',
    )
    heading_lines: int = key(
        "Lines of the heading: their cells are joined by a blank, an empty one takes what stands to its left.",
        default=1,
        kinds=(*LINES, "workbook"),
    )
    names: tuple[str, ...] = key("Names of the columns, where the table has no heading.", default=(), kinds=LINES)
    after: str | None = key(
        "Start of the line the rows follow, where the table has no heading.", default=None, kinds=LINES
    )
    units: str | None = key(
        "Where the heading has units: on a line of their own `below` it, or `bracketed` behind each name.",
        default=None,
        words=("below", "bracketed"),
        kinds=(*LINES, "workbook"),
    )
    delimiter: str = key(
        "What parts the cells; `blanks` is any run of white space.", default=";", kinds=("delimited",), example='"|"'
    )
    places: dict[str, tuple[int, int]] = key(
        "Column = its first and last character on the line, from 1.",
        factory=dict,
        kinds=("fixed",),
        example="{ height = [10, 18] }",
    )
    skip: tuple[str, ...] = key("Lines of the table that start so are passed over.", default=(), kinds=LINES)
    end: str | None = key(
        "Start of the line that closes the table.", default=None, kinds=(*LINES, "workbook"), example='"End;"'
    )
    until_blank: bool = key("Whether an empty line ends the table.", default=False, kinds=(*LINES, "workbook"))
    rows: str | None = key(
        "Path of the list (JSON, TOML), element (XML) or table (SQLite) each of which is a row; `*` is any place.",
        default=None,
        kinds=("json", "toml", "xml", "sqlite"),
        example='"wheel/reading"',
    )
    elements: str | None = key(
        "Path of a list of plain values: columns `index` (from 0) and `value`.", default=None, kinds=("json", "toml")
    )
    entries: str | None = key("Path of a mapping: columns `key` and `value`.", default=None, kinds=("json", "toml"))
    sheet: str | None = key("Sheet it stands on.", default=None, kinds=("workbook",))
    optional: bool = key("Whether an export may lack it.", default=False)
    declared: Declared | None = key("Number of rows the export declares.", default=None)
    gather: Gather | None = key("Columns brought from wide to long.", default=None)


@dataclass(frozen=True)
class Condition:
    """Rows that count: the column's text must keep every condition stated."""

    column: str = key("Column looked at.", example='"state"')
    is_: tuple[str, ...] = key("Texts of rows that count.", default=(), spelt="is", example='["ok"]')
    not_: tuple[str, ...] = key("Texts of rows that are passed over.", default=(), spelt="not", example='["void"]')
    pattern: str | None = key("Pattern a row that counts must match.", default=None)


@dataclass(frozen=True)
class FieldPlan:
    """Where a column of the record comes from and how it is converted. Marks such as `{n}` are filled in."""

    target: str
    line: int
    column: str | None = key("Column of the table.", default=None, example='"air g"')
    header: str | None = key("Header key.", default=None, example='"lab balance"')
    constant: Scalar | None = key("A value of the layout's own.", default=None, example='"t166"')
    file_name: str | None = key(
        "Pattern over the file's name; its one group counts. Under another name the bytes then mean another thing.",
        default=None,
        example="'^([A-Z]{2}-\\d{4})'",
    )
    value: Scalar = key("Which value of the header line, from 1.", default=1, kinds=LINES)
    take: str | None = key(
        "`last`: the last value of the column, for a record without table.", default=None, words=("last",)
    )
    table: str | None = key("Table of `column`, where it is not the record's.", default=None)
    unit: str | None = key(
        "Unit the export writes in; it is converted to the stored one.", default=None, example='"lbf"'
    )
    unit_from: UnitPlace | None = key(
        "Where the unit is written: the column beside a column, the header key of a header value; `{ header = … }` "
        "is the header key with the unit of a whole column. An export without it is refused, unless `unit` is stated.",
        default=None,
        example='{ header = "Units" }',
    )
    unit_inside: bool = key("Whether the unit stands in the cell behind the number (`4.71 kg`).", default=False)
    times: float | None = key("Factor that is no unit, such as -1 for a sign.", default=None)
    words: str | None = key("List of `[words]` that says what the export's words mean.", default=None)
    pattern: str | None = key("Pattern whose one group is the part of the cell that counts.", default=None)
    absent: tuple[str, ...] = key("Sentinels of this field alone.", default=())
    optional: bool = key("Whether the export may lack the column.", default=False)
    required: bool = key(
        "Whether a row without the value is refused though the record would do without.", default=False
    )
    n: tuple[int, int] | None = key("First and last number the mark `{n}` takes: a field for each.", default=None)

    @property
    def unit_beside(self) -> str | None:
        """Return the column with the unit of each value of a column."""
        place = self.unit_from
        return place.name if place is not None and self.column is not None and not place.header else None

    @property
    def unit_head(self) -> str | None:
        """Return the header key with the unit."""
        place = self.unit_from
        return place.name if place is not None and (self.column is None or place.header) else None

    @property
    def nth(self) -> int:
        """Return which value of its header line counts, from 1."""
        return self.value if isinstance(self.value, int) else 1


@dataclass(frozen=True)
class RecordKeys:
    """One record made of each row of a table, or of each export (block) where it names no table."""

    record: str = key("Name of the record.", example='"weighing"')
    table: str | None = key("Table whose rows it is made of.", default=None)
    present: str | None = key("Column that must not be empty: rows without it give no record.", default=None)
    where: tuple[Condition, ...] = key(
        "Conditions on the rows that count; the others are passed over.",
        default=(),
        example='[{ column = "state", not = "void" }]',
    )
    repeat: tuple[Mapping[str, Scalar], ...] = key(
        "The record once for each of these sets of marks.", default=(), example='[{ side = "L" }, { side = "R" }]'
    )


@dataclass(frozen=True)
class RecordPlan(RecordKeys):
    """A record with its fields, marks filled in."""

    fields: tuple[FieldPlan, ...] = ()
    line: int = 1


@dataclass(frozen=True)
class LayoutKeys:
    """A layout: what it is called, and what kind of file it reads."""

    name: str = key("Name of the layout, equal to its folder's.", example='"density_bath"')
    kind: Kind = key("Kind of file.", words=KINDS, example='"delimited"')
    recognition: Recognition = key(
        "How an export is recognised.",
        spelt="recognise",
        example='{ starts = "DENSITY BATH" }',
    )
    version: str = key("Version for people; the hash of the file is added to it.", default="1")
    title: str = key("What it reads, in words.", default="")
    writing: Writing = key("How it writes.", factory=Writing, spelt="file")
    header: HeaderPlan = key("Values that hold for the whole export.", factory=HeaderPlan)
    block: BlockPlan = key("Blocks, one for each specimen.", factory=BlockPlan)
    tables: dict[str, TablePlan] = key("The tables, by a name of your choice.", factory=dict)
    words: dict[str, dict[str, str]] = key("Look-up lists by a name of your choice.", factory=dict)


@dataclass(frozen=True)
class Layout(LayoutKeys):
    """A whole layout; `source` names its file in messages."""

    source: str = ""
    records: tuple[RecordPlan, ...] = ()

    @property
    def gives(self) -> tuple[str, ...]:
        """Return the records it gives, each once, in the order of the layout."""
        return tuple(dict.fromkeys(plan.record for plan in self.records))

    @property
    def blocks(self) -> bool:
        """Return whether an export falls into blocks that are read one by one."""
        return bool(self.block.starts or self.block.sheets)
