"""What the layout language can say: each capability read from a small export written out by hand."""

import io
import json
import sqlite3
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest

from plugins.api import Export, Reading
from plugins.layout import load
from plugins.layout.importer import LayoutImporter
from plugins.layout.section import LayoutError

#: A layout of weighings with the least a record needs; tests put their own parts in.
WEIGHING = """
name = "bench"
kind = "{kind}"
[recognise]
{recognise}
{parts}
[[record]]
record = "weighing"
table = "rows"
{record}
[record.fields]
method = {{ constant = "t166" }}
role = {{ constant = "dry" }}
{fields}
"""


def importer(kind: str, recognise: str, parts: str, fields: str, record: str = "") -> LayoutImporter:
    text = WEIGHING.format(kind=kind, recognise=recognise, parts=parts, fields=fields, record=record)
    return LayoutImporter(load.parse(text.encode(), "bench/layout.toml"), "0" * 64)


def read(one: LayoutImporter, folder: Path, content: str | bytes, name: str = "x.txt") -> Reading:
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    export = Export.from_path(path)
    assert one.claims(export) is not None
    return one.read([export])


def values(reading: Reading, *columns: str) -> list[tuple[object, ...]]:
    assert reading.refused["reason"].to_list() == []
    return reading.frames["weighing"].select(columns).rows()


FIELDS = 'sample_id = { column = "sample" }\nspecimen_no = { column = "no" }\nmass_g = { column = "mass", unit = "g" }'
STARTS = 'starts = "#log"'


def delimited(parts: str = "", fields: str = FIELDS, table: str = "", record: str = "") -> LayoutImporter:
    whole = f'{parts}\n[tables.rows]\nheading = "sample"\ndelimiter = ";"\n{table}'
    return importer("delimited", STARTS, whole, fields, record)


def test_quoted_cells_hold_the_delimiter_and_the_mark(tmp_path: Path) -> None:
    one = delimited("[file]\nquote = '\"'")
    text = '#log\nsample;no;mass\n"A;1";"the ""first""";4.5\nB; "2" ;5\n;;\n"C;3;6\n'
    reading = read(one, tmp_path, text)
    assert reading.frames["weighing"]["sample_id"].to_list() == ["A;1", "B"]
    assert reading.frames["weighing"]["specimen_no"].to_list() == ['the "first"', "2"]
    assert reading.refused.filter(code="not_well_formed").select("source_line", "reason").rows() == [
        (6, 'the marks " around its cells do not match')
    ]


def test_thousands_marks_comments_and_sentinels(tmp_path: Path) -> None:
    parts = '[file]\ndecimal = ","\nthousands = "."\ncomment = "//"\nabsent = ["---"]'
    fields = FIELDS + '\nwater_temperature_c = { column = "bath", absent = ["-99,9"] }'
    text = (
        "#log\nsample;no;mass;bath\n// a remark; with; marks\nA;1;1.234,5;25,0\n"
        "B;1;12.345.678,9;---\nC;1;12,5;-99,9\nD;1;1.23,4;1\n"
    )
    reading = read(delimited(parts, fields), tmp_path, text)
    assert reading.frames["weighing"].select("source_line", "mass_g", "water_temperature_c").rows() == [
        (4, 1234.5, 25.0),
        (5, 12345678.9, None),
        (6, 12.5, None),
    ]
    assert reading.refused.select("source_line", "found").rows() == [(7, "1.23,4")]


@pytest.mark.parametrize(
    ("encoding", "named"),
    [
        ("utf-16", "utf-8"),
        ("utf-16-le", "utf-16-le"),
        ("utf-16-be", "utf-16-be"),
        ("cp850", "cp850"),
        ("cp1251", "cp1251"),
        ("shift_jis", "shift_jis"),
    ],
)
def test_any_encoding(encoding: str, named: str, tmp_path: Path) -> None:
    label = {"cp1251": "Проба", "shift_jis": "試料"}.get(encoding, "Größe")
    parts = f'[file]\nencodings = ["{named}"]\n[tables.rows]\nheading = "{label}"\n'
    one = importer("delimited", f'starts = "#log {label}"', parts, FIELDS.replace('"sample"', f'"{label}"'))
    content = f"#log {label}\n{label};no;mass\nA-{label};1;4.5\n".encode(encoding)
    assert values(read(one, tmp_path, content), "sample_id", "mass_g") == [(f"A-{label}", 4.5)]


def test_units_below_the_heading_bracketed_and_inside_the_cell(tmp_path: Path) -> None:
    below = "#log\nsample;no;mass\n;;kg\nA;1;4.5\n"
    assert values(read(delimited(table='units = "below"'), tmp_path, below), "source_line", "mass_g") == [(4, 4500.0)]
    bracketed = "#log\nsample;no;mass [lb]\nA;1;2\n"
    assert values(read(delimited(table='units = "bracketed"'), tmp_path, bracketed), "mass_g") == [(907.18474,)]
    fields = FIELDS.replace('unit = "g"', "unit_inside = true")
    inside = "#log\nsample;no;mass\nA;1;4.5 kg\nB;1;31 g\nC;1;8\nD;1;1 furlong\nE;1;x\n"
    reading = read(delimited(fields=fields), tmp_path, inside)
    assert reading.frames["weighing"]["mass_g"].to_list() == [4500.0, 31.0, 8.0]
    assert reading.refused.select("source_line", "code", "found").rows() == [
        (6, "unknown_unit", "furlong"),
        (7, "not_a_number", "x"),
    ]


def test_the_header_tells_the_unit_of_a_column(tmp_path: Path) -> None:
    """1 lb is 453.59237 g (exactly, by the international yard and pound agreement of 1959; NIST SP 811, B.8)."""
    fields = FIELDS.replace('unit = "g"', 'unit_from = { header = "Units" }')
    rows = "sample;no;mass\nA;1;2\nB;1;4\n"
    pounds = read(delimited(fields=fields), tmp_path, f"#log\nUnits=lb\n{rows}")
    assert values(pounds, "mass_g") == [(907.18474,), (1814.36948,)]
    grams = read(delimited(fields=fields), tmp_path, f"#log\nUnits= g \n{rows}")
    assert values(grams, "mass_g", "source_line") == [(2.0, 4), (4.0, 5)]
    strange = read(delimited(fields=fields), tmp_path, f"#log\nUnits=furlong\n{rows}").refused
    assert set(strange["code"]) == {"unknown_unit"} and strange["source_line"].to_list() == [4, 5]
    for lacking in ("", "Units=\n"):
        reading = read(delimited(fields=fields), tmp_path, f"#log\n{lacking}{rows}")
        assert reading.refused.select("code", "column_name").rows() == [("missing_field", "Units")]
        assert all(frame.is_empty() for frame in reading.frames.values())
    stated = FIELDS.replace('unit = "g"', 'unit = "kg", unit_from = { header = "Units" }')
    assert values(read(delimited(fields=stated), tmp_path, f"#log\n{rows}"), "mass_g") == [(2000.0,), (4000.0,)]


def test_exports_read_together_keep_their_own_units(tmp_path: Path) -> None:
    fields = FIELDS.replace('unit = "g"', 'unit_from = { header = "Units" }')
    one = delimited(fields=fields)
    exports = []
    for number, unit in enumerate(("g", "kg", "lb")):
        path = tmp_path / f"{number}.txt"
        path.write_text(f"#log\nUnits={unit}\nsample;no;mass\nA{number};1;2\n")
        exports.append(Export.from_path(path))
    assert values(one.read(exports), "mass_g") == [(2.0,), (2000.0,), (907.18474,)]


def test_a_place_of_units_that_is_neither_text_nor_header_is_a_fault() -> None:
    for given, said in (('{ column = "u" }', "lacks 'header'"), ("3", "must be a text")):
        with pytest.raises(LayoutError, match=said):
            delimited(fields=FIELDS.replace('unit = "g"', f"unit_from = {given}"))


def test_rows_that_count(tmp_path: Path) -> None:
    record = 'where = [{ column = "state", is = ["ok", "late"] }, { column = "sample", not = "BLANK" }]'
    text = "#log\nsample;no;mass;state\nA;1;1;ok\nB;1;2;void\nBLANK;1;3;ok\nC;1;4;late\n"
    assert values(read(delimited(record=record), tmp_path, text), "sample_id") == [("A",), ("C",)]
    like = """where = [{ column = "sample", pattern = '^[A-C]$' }]"""
    assert values(read(delimited(record=like), tmp_path, text), "sample_id") == [("A",), ("B",), ("C",)]


def test_wide_to_long(tmp_path: Path) -> None:
    table = """gather = { columns = '^on ([\\d.]+)$', name = "opening", value = "grams" }"""
    fields = (
        'sample_id = { column = "sample" }\nspecimen_no = { constant = "1" }\n'
        'sieve_mm = { column = "opening" }\nmass_g = { column = "grams" }'
    )
    reading = read(delimited(fields=fields, table=table, record='present = "grams"'), tmp_path,
                   "#log\nsample;on 9.5;note;on 0.075\nA;10;x;2\nB;20;;\n")  # fmt: skip
    assert values(reading, "source_line", "sample_id", "sieve_mm", "mass_g") == [
        (3, "A", 9.5, 10.0),
        (3, "A", 0.075, 2.0),
        (4, "B", 9.5, 20.0),
    ]


def test_the_name_of_the_file_and_a_clock_elsewhere(tmp_path: Path) -> None:
    parts = '[file.clock]\nwritten = "UTC"\nlaboratory = "Europe/Berlin"\n[header]\nseparator = ":"'
    fields = """
        sample_id = { file_name = '^bath_([A-Z]+-\\d+)_' }
        specimen_no = { column = "no" }
        mass_g = { column = "mass" }
        stated_at = { column = "sample" }
        issued_at = { header = "on" }"""
    text = "#log\non: 2026-07-01 10:00\nsample;no;mass\n2026-01-01 23:30;1;5\n"
    reading = read(delimited(parts, fields), tmp_path, text, "bath_QL-13_x.txt")
    assert values(reading, "sample_id", "stated_at", "issued_at") == [
        ("QL-13", datetime(2026, 1, 2, 0, 30), datetime(2026, 7, 1, 12, 0))
    ]
    other = read(delimited(parts, fields), tmp_path, text, "copy.txt")
    assert other.refused["reason"].to_list() == [
        "the name of the file (sample_id) is 'copy.txt';"
        " expected a text of the pattern ^bath_([A-Z]+-\\d+)_ with a text"
    ]


def test_several_tables_under_one_header(tmp_path: Path) -> None:
    parts = (
        '[header]\nseparator = ":"\n[tables.list]\nheading = "piece"\nuntil_blank = true\n'
        '[tables.rows]\nheading = "sample"\nend = "end"\ndeclared = { end = true }'
    )
    text = "#log\nby: A\n\nsample;no;mass\nS;1;4\nS;2;5\nend;2\n\nafter: 7\npiece;size\n1;9\n\ntail: 3\n"
    fields = FIELDS + '\ninstrument_id = { header = "by" }\nwater_temperature_c = { header = "tail" }'
    reading = read(importer("delimited", STARTS, parts, fields), tmp_path, text)
    assert values(reading, "source_line", "mass_g", "instrument_id", "water_temperature_c") == [
        (5, 4.0, "A", 3.0),
        (6, 5.0, "A", 3.0),
    ]


TICKET = """\
#log  UNIT B7
PIECE QL-0013/1      AT 07/05/26
gyr     in
  0  5.165
  1  5.079
---
PIECE QL-0013/2      AT 07/05/26
gyr     in
  0  5.1x5
PIECE                AT 07/05/26
gyr     in
  0  5.2
"""
BLOCKS = """
name = "ticket"
kind = "fixed"
[recognise]
starts = "#log"
[file]
datetimes = ["%d/%m/%y"]
dates = ["%d/%m/%y"]
[block]
starts = "PIECE"
[header.patterns]
unit = 'UNIT (\\S+)'
label = '^PIECE (\\S+/\\S+)'
day = 'AT (\\S+)'
[tables.heights]
heading = "gyr"
skip = "---"
places = { gyr = [1, 3], height = [4, 10] }
[common]
sample_id = { header = "label", pattern = '^(.+)/' }
specimen_no = { header = "label", pattern = '/(.+)$' }
stated_at = { header = "day" }
[[record]]
record = "compaction_height"
table = "heights"
[record.fields]
gyration = { column = "gyr" }
height_mm = { column = "height", unit = "in" }
[[record]]
record = "compaction_run"
[record.fields]
instrument_id = { header = "unit" }
stop_rule = { constant = "gyrations" }
gyrations = { table = "heights", column = "gyr", take = "last" }
"""


def test_a_fixed_width_ticket_of_many_specimens(tmp_path: Path) -> None:
    reading = read(LayoutImporter(load.parse(BLOCKS.encode(), "ticket/layout.toml"), "0"), tmp_path, TICKET)
    heights = reading.frames["compaction_height"]
    assert heights.select("source_line", "sample_id", "specimen_no", "gyration").rows() == [
        (4, "QL-0013", "1", 0),
        (5, "QL-0013", "1", 1),
    ]
    assert heights["height_mm"].to_list() == pytest.approx([5.165 * 25.4, 5.079 * 25.4], rel=1e-12)
    assert sorted(reading.refused.select("source_line", "code").unique().rows()) == [
        (9, "not_a_number"),
        (10, "missing_field"),
    ]
    runs = reading.frames["compaction_run"]
    assert runs.select("source_line", "specimen_no", "instrument_id", "gyrations").rows() == [
        (2, "1", "B7", 1),
        (7, "2", "B7", 0),
    ]


def test_a_place_drawn_too_short_cuts_no_digit_off(tmp_path: Path) -> None:
    one = LayoutImporter(load.parse(BLOCKS.replace("[4, 10]", "[4, 9]").encode(), "ticket/layout.toml"), "0")
    reading = read(one, tmp_path, TICKET[: TICKET.index("---")])
    cut_off = reading.refused.filter(code="not_well_formed")
    assert cut_off.select("source_line", "reason").rows() == [
        (4, "'5' stands outside the places of the table's columns"),
        (5, "'9' stands outside the places of the table's columns"),
    ]


def book(**sheets: list[list[object]]) -> bytes:
    made = openpyxl.Workbook()
    made.remove(made["Sheet"])
    for name, rows in sheets.items():
        sheet = made.create_sheet(name)
        for row in rows:
            sheet.append(row)
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def test_a_workbook_with_a_sheet_for_each_specimen(tmp_path: Path) -> None:
    parts = (
        '[block]\nsheets = \'^Piece\'\n[header.cells]\nlabel = "B1"\nbench = "About!A1"\n[tables.rows]\n'
        'heading = "what"\nheading_lines = 2\nend = "sum"'
    )
    fields = (
        'sample_id = { header = "label" }\nspecimen_no = { column = "what" }\n'
        'mass_g = { column = "air g" }\nwater_temperature_c = { column = "bath C" }\n'
        'instrument_id = { header = "bench" }'
    )
    rows = [["sample", "QL-1"], [], ["what", "air", None, "bath"], [None, "g", "n", "C"], [1, 4.5, 9, 25], ["sum", 4.5]]
    content = book(About=[["QL-9"]], **{"Piece 1": rows, "Piece 2": [["sample", "QL-2"], *rows[1:]]})
    one = importer("workbook", 'sheets = "About"', parts, fields)
    reading = read(one, tmp_path, content)
    assert values(reading, "source_part", "source_line", "sample_id", "mass_g", "water_temperature_c") == [
        ("Piece 1", 5, "QL-1", 4.5, 25.0),
        ("Piece 2", 5, "QL-2", 4.5, 25.0),
    ]
    assert reading.frames["weighing"]["instrument_id"].to_list() == ["QL-9", "QL-9"]
    none = read(one, tmp_path, book(About=[["QL-9"]], Other=[[1]]))
    assert none.refused["reason"].to_list() == ["no sheet of the workbook is like '^Piece'; it has About, Other"]


def database(*statements: str, path: Path) -> bytes:
    with sqlite3.connect(path) as made:
        for statement in statements:
            made.execute(statement)
    made.close()
    return path.read_bytes()


SQLITE = (
    "create table about (name text, value)",
    "insert into about values ('bench', 'QL-2'), ('other', 1)",
    "create table rows (sample text, no integer, mass real)",
    "insert into rows values ('A', 1, 4712.3), ('B', 2, null), ('C', 3, 0.1)",
)
DATABASE = importer(
    "sqlite",
    'tables = ["rows"]',
    '[header.settings]\ntable = "about"\nname = "name"\nvalue = "value"\n[tables.rows]\nrows = "rows"',
    FIELDS + '\ninstrument_id = { header = "bench" }',
)


def test_a_database_is_read_without_being_touched(tmp_path: Path) -> None:
    content = database(*SQLITE, path=tmp_path / "made.db")
    reading = read(DATABASE, tmp_path, content, "x.db")
    assert reading.frames["weighing"].select("source_part", "source_line", "mass_g", "instrument_id").rows() == [
        ("rows", 1, 4712.3, "QL-2"),
        ("rows", 3, 0.1, "QL-2"),
    ]
    assert reading.refused.select("source_line", "code").rows() == [(2, "missing_field")]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["made.db", "x.db"]  # no journal beside it
    assert (tmp_path / "x.db").read_bytes() == content


@pytest.mark.parametrize(
    ("spoil", "code", "reason"),
    [
        (lambda whole: whole[: len(whole) // 2], "truncated", "the database declares"),
        (lambda whole: whole[:100] + b"\xff" * 400 + whole[500:], "not_well_formed", "the database cannot be read"),
    ],
)
def test_a_damaged_database_is_refused(spoil, code: str, reason: str, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "x.db"
    path.write_bytes(spoil(database(*SQLITE, path=tmp_path / "made.db")))
    (refused,) = DATABASE.read([Export.from_path(path)]).refused.to_dicts()
    assert refused["code"] == code and refused["reason"].startswith(reason)


def test_views_and_missing_tables_of_a_database_are_refused(tmp_path: Path) -> None:
    content = database(
        *SQLITE[:2], "create table real_rows (a)", "create view rows as select 1", path=tmp_path / "m.db"
    )
    path = tmp_path / "x.db"
    path.write_bytes(content)
    assert DATABASE.claims(Export.from_path(path)) is None
    (refused,) = DATABASE.read([Export.from_path(path)]).refused.to_dicts()
    assert refused["reason"] == "the database has no table 'rows'; did you mean 'real_rows'?; it has about, real_rows"


def test_lists_inside_lists_of_a_document(tmp_path: Path) -> None:
    parts = '[tables.rows]\nrows = "runs.*.steps"'
    fields = FIELDS.replace("sample", "../label", 2).replace("../label_id", "sample_id")
    first = {"label": "A", "steps": [{"no": 1, "mass": 2}]}
    second = {"label": "B", "steps": [{"no": 1, "mass": 3}, {"no": 2, "mass": 4}]}
    given = {"kind": "log", "runs": [first, second]}
    one = importer("json", """contains = '"log"'""", parts, fields)
    reading = read(one, tmp_path, json.dumps(given, indent=1))
    assert values(reading, "sample_id", "specimen_no", "mass_g") == [("A", "1", 2.0), ("B", "1", 3.0), ("B", "2", 4.0)]
    text = json.dumps(given, indent=1).splitlines()
    lines = reading.frames["weighing"]["source_line"].to_list()
    assert [text[line - 1].strip() for line in lines] == ["{", "{", "{"] and len(set(lines)) == 3


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('["utf-8"]', '["utf-9"]', "line 7: there is no encoding 'utf-9'; such as utf-8, cp1252, utf-16-le"),
        ('decimal = ","', 'decimal = ","\nthousands = ","', "line 9: ',' cannot be both decimal and thousands mark"),
        ('"UTC"', '"Mars"', "line 10: there is no time zone 'Mars'; such as UTC or Europe/Berlin"),
        ("delimiter", "sheet", "line 15: 'sheet' has a meaning in layouts of kind 'workbook'; take it out"),
        ('heading = "sample"', "", "line 13: the table needs 'heading', or 'names' for a table without one"),
        ("'^on (.*)$'", "'^on'", "line 16: '^on' must have exactly one group in brackets, it has 0"),
        ("'^on (.*)$'", "'^on ('", "line 16: '^on (' is not a pattern: "),
        ('{ header = "rows" }', "{}", "line 13: 'declared' lacks 'header'; name the header key with the number of rows,"
         " or set end = true"),
    ],
)  # fmt: skip
def test_faults_say_line_and_fix(old: str, new: str, message: str) -> None:
    text = """\
name = "bench"
kind = "delimited"

[recognise]
starts = "#log"
[file]
encodings = ["utf-8"]
decimal = ","
[file.clock]
written = "UTC"
laboratory = "Europe/Berlin"

[tables.rows]
heading = "sample"
delimiter = ";"
gather = { columns = '^on (.*)$', name = "a", value = "b" }
declared = { header = "rows" }

[[record]]
record = "weighing"
"""
    load.parse(text.encode(), "bench/layout.toml")
    with pytest.raises(LayoutError) as caught:
        load.parse(text.replace(old, new, 1).encode(), "bench/layout.toml")
    assert str(caught.value).startswith("bench/layout.toml, " + message)
