"""What cannot be read is refused with place, value, reason and remedy; the rest of the export stays."""

import json
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from plugins.api import CATALOGUE, REFUSALS, Reading, refusals
from tests.unit.plugins.examples import (
    FRAME,
    JOURNAL,
    LIMITS,
    MIX,
    PRESS,
    PRESS_JSON,
    SHEETS,
    SLIP,
    TRACK,
    TRACK_XML,
    book,
    examples,
    export,
    importers,
)

#: The kinds whose text can be altered by replacing one piece of it.
TEXTS = {
    "balance_journal": JOURNAL,
    "balance_slip": SLIP,
    "press_report": PRESS,
    "frame_trace": FRAME,
    "press_json": PRESS_JSON,
    "track_table": TRACK,
    "track_xml": TRACK_XML,
    "mix_card": MIX,
    "limits_card": LIMITS,
}


def altered(name: str, old: str, new: str) -> str:
    text = TEXTS[name]
    assert old in text
    return text.replace(old, new, 1)


def read(name: str, folder: Path, content: bytes | str) -> Reading:
    return importers()[name].read([export(folder, content)])


def only(reading: Reading) -> dict[str, Any]:
    """Return the one refusal there is."""
    assert reading.refused.schema == pl.Schema(REFUSALS)
    assert reading.refused.height == 1, reading.refused.to_dicts()
    row: dict[str, Any] = reading.refused.to_dicts()[0]
    assert row["remedy"] == CATALOGUE[row["code"]].remedy
    return row


def rows_of(reading: Reading) -> dict[str, int]:
    return {name: frame.height for name, frame in reading.frames.items() if frame.height}


@pytest.mark.parametrize(
    ("name", "old", "new", "code", "line", "column", "value", "left"),
    [
        ("balance_journal", "4712,3", "47a2,3", "not_a_number", 5, "Grams", "47a2,3", {"weighing": 2}),
        ("balance_journal", "4712,3", "4712.3", "not_a_number", 5, "Grams", "4712.3", {"weighing": 2}),
        ("balance_journal", "4712,3", "inf", "not_a_number", 5, "Grams", "inf", {"weighing": 2}),
        ("balance_journal", "4712,3", "", "missing_field", 5, "Grams", None, {"weighing": 2}),
        ("balance_journal", "09:31:40", "09:71:40", "not_a_date", 6, "Time", "2026-05-07 09:71:40", {"weighing": 2}),
        ("balance_journal", "in water", "in oil", "not_a_word", 6, "Weighed", "in oil", {"weighing": 2}),
        ("balance_journal", "HB-0013", " ", "missing_field", 7, "Sample", None, {"weighing": 2}),
        ("balance_slip", "1502.4  g", "15O2.4  g", "not_a_number", 7, "DRY IN AIR", "15O2.4", {"weighing": 4}),
        ("balance_slip", "1502.4  g", "1502.4  s", "unknown_unit", 7, "DRY IN AIR", "s", {"weighing": 4}),
        ("press_report", "1  129.0", "1  129..0", "not_a_number", 18, "height mm", "129..0",
         {"compaction_run": 1, "compaction_height": 2}),
        ("press_report", "1  129.0", "1.5  129.0", "not_a_number", 18, "gyration", "1.5",
         {"compaction_run": 1, "compaction_height": 2}),
        ("press_json", "129.0", '"wide"', "not_a_number", 2, "value", "wide",
         {"compaction_run": 1, "compaction_height": 2}),
        ("press_json", "129.0", "null", "missing_field", 2, "value", None,
         {"compaction_run": 1, "compaction_height": 2}),
        ("track_table", "\t1.01", "\tx", "not_a_number", 15, "L1", "x", {"wheel_run": 2, "wheel_depth": 3}),
        ("track_xml", "<d>1.01</d>", "<d>x</d>", "not_a_number", 7, "d.1", "x", {"wheel_run": 2, "wheel_depth": 3}),
        ("track_xml", "<d>1.11</d>", "", "missing_field", 7, "d.11", None, {"wheel_run": 2, "wheel_depth": 3}),
        ("track_xml", 'side="left"', 'side="middle"', "not_a_word", 6, "@side", "middle",
         {"wheel_run": 1, "wheel_depth": 2}),
        ("frame_trace", "|0.415", "|0,415", "not_a_number", 15, "kN", "0,415", {"load_test": 1, "load_point": 2}),
        ("mix_card", '"0.075" = 4.6', '"pan" = 4.6', "not_a_number", 23, "key", "pan",
         {"mix_design": 1, "mix_gradation": 1, "stockpile": 2}),
        ("limits_card", 'basis = "absolute"', 'basis = "loose"', "not_a_word", 18, "basis", "loose",
         {"specification_set": 1, "specification_limit": 1, "acceptance_plan": 1, "pay_piece": 1, "precision_limit": 1,
          "specification_assignment": 1}),
    ],
)  # fmt: skip
def test_one_bad_cell_refuses_its_row_only(
    name: str, old: str, new: str, code: str, line: int, column: str, value: str | None, left: dict[str, int],
    tmp_path: Path,
) -> None:  # fmt: skip
    reading = read(name, tmp_path, altered(name, old, new))
    found = reading.refused.filter(pl.col("source_line") == line)
    if name == "track_xml" and code == "not_a_word":
        assert reading.refused["source_line"].to_list() == [6, 7, 8]  # the wheel and its readings
        assert set(reading.refused["code"]) == {code}
    else:
        assert reading.refused.height == 1
    row = found.to_dicts()[0]
    assert (row["code"], row["column_name"], row["found"]) == (code, column, value)
    assert column in row["reason"]
    assert rows_of(reading) == left


@pytest.mark.parametrize(
    ("name", "old", "new", "code", "reason"),
    [
        ("balance_journal", "End;3\n", "", "truncated", "the closing line 'End;' is missing"),
        ("balance_journal", "End;3", "End;4", "truncated", "line 8: the export declares 4 rows, 3 are there"),
        ("balance_journal", "End;3", "End;2", "contradiction", "line 8: the export declares 2 rows, 3 are there"),
        ("balance_journal", "End;3", "End;3\nmore", "not_well_formed", "line 9: something follows the closing line"),
        ("balance_journal", "No;Time", "Nr;Time", "missing_table",
         "no line starts with 'No;', the heading of the table"),
        ("balance_journal", "Grams", "Gramms", "missing_column",
         "line 4: the heading lacks the column 'Grams'; did you mean 'Gramms'?; it has No, Time, Sample, Piece, Test,"
         " Weighed, Opening mm, Gramms, Water °C"),
        ("balance_journal", ";Piece;", ";Sample;", "duplicate",
         "line 4: the column 'Sample' stands twice in the heading"),
        ("balance_journal", "Written;2026-05-07 17:40", "Written;yesterday", "not_a_date",
         "line 2: 'Written' (issued_at) is 'yesterday'; expected a time as %Y-%m-%d %H:%M:%S or %Y-%m-%d %H:%M"),
        ("frame_trace", "closed|3\n", "", "truncated", "the closing line 'closed|' is missing"),
        ("frame_trace", "Test|tensile", "Test|torsion", "not_a_word",
         "line 6: 'Test' (method) is 'torsion'; expected one of 'tensile', 'stability', 'cracking', 'half disc',"
         " 'rapid shear'"),
        ("press_report", "sample = HB-0012\n", "", "missing_field",
         "line 1: 'sample' (sample_id) is missing; each compaction_run needs it"),
        ("press_report", "stop = gyrations", "stop = bell", "not_a_word",
         "line 7: 'stop' (stop_rule) is 'bell'; expected one of gyrations, height"),
        ("press_report", "piece = 1", "piece = 1\npiece = 2", "duplicate", "line 6: 'piece' is given twice"),
        ("press_json", "127.25]", "127.25", "not_well_formed", None),
        ("press_json", "127.25]\n}\n", "127.2", "truncated", None),
        ("press_json", ", 127.25", "", "truncated", "line 8: the export declares 3 rows, 2 are there"),
        ("press_json", "127.25", "NaN", "not_well_formed", "this is not JSON: 'NaN' is not a number"),
        ("press_json", '"gyrations": 2', '"gyrations": 2, "gyrations": 3', "duplicate",
         "'gyrations' is given twice in one object"),
        ("track_table", "Rows\t2", "Rows\t3", "truncated", "line 13: the export declares 3 rows, 2 are there"),
        ("track_table", "Rows\t2\n", "", "missing_field", "the number of rows of the table 'readings' is not given"),
        ("track_table", "Rows\t2", "Rows\tall", "not_a_number",
         "line 13: the number of rows of the table 'readings' is not given"),
        ("track_table", "\tR11\n", "\tR12\n", "missing_column", None),
        ("track_xml", "</trackTest>\n", "", "truncated", "line 14: no element found"),
        ("track_xml", "</wheel>", "</whee>", "not_well_formed", "line 9: mismatched tag"),
        ("mix_card", "[gradation]", "[grading]", "missing_table", "there is no 'gradation'"),
        ("mix_card", "revision = 2", "revision = 2 3", "not_well_formed", None),
        ("mix_card", "nmas_mm = 12.5\n", "", "missing_field",
         "line 1: 'nmas_mm' (nmas_mm) is missing; each mix_design needs it"),
    ],
)  # fmt: skip
def test_a_fault_of_the_whole_refuses_the_file(
    name: str, old: str, new: str, code: str, reason: str | None, tmp_path: Path
) -> None:
    reading = read(name, tmp_path, altered(name, old, new))
    row = only(reading)
    assert (row["code"], row["source_line"]) == (code, None)
    assert reason is None or row["reason"] == reason
    assert rows_of(reading) == {}


def test_a_wrong_number_of_cells_refuses_the_row(tmp_path: Path) -> None:
    reading = read("balance_journal", tmp_path, altered("balance_journal", "4712,3;", "4712,3;;"))
    row = only(reading)
    assert (row["code"], row["source_line"]) == ("not_well_formed", 5)
    assert row["reason"] == "the row has 10 cells, the heading has 9"
    assert row["found"] == "1;2026-05-07 09:12:05;HB-0012;1;bulk;dry;;4712,3;;"
    assert rows_of(reading) == {"weighing": 2}


def test_the_words_allowed_are_listed(tmp_path: Path) -> None:
    row = only(read("balance_journal", tmp_path, altered("balance_journal", "bulk", "bluk")))
    words = "'bulk', 'maximum', 'burn', 'sieving', 'tensile', 'stability', 'dimensions', 'kneaded'"
    assert row["reason"] == f"column 'Test' (method) is 'bluk'; expected one of {words}"


class TestSlips:
    """A slip is refused on its own; the whole ones of the file stay."""

    def test_cut_off(self, tmp_path: Path) -> None:
        reading = read("balance_slip", tmp_path, SLIP[: SLIP.rindex("TAKEN")])
        row = only(reading)
        assert (row["code"], row["source_line"]) == ("truncated", 15)
        assert row["reason"] == "the slip that begins here has no closing rule '+-'"
        assert rows_of(reading) == {"weighing": 3}

    def test_two_run_together(self, tmp_path: Path) -> None:
        rule = "+------------------------------+\n"
        reading = read("balance_slip", tmp_path, SLIP.replace(rule + rule, ""))
        row = only(reading)
        assert (row["code"], row["source_line"]) == ("duplicate", 2)
        assert rows_of(reading) == {}

    def test_unknown_label(self, tmp_path: Path) -> None:
        reading = read("balance_slip", tmp_path, altered("balance_slip", "DRY IN AIR ", "DRY IN AIRR"))
        row = only(reading)
        assert (row["code"], row["source_line"]) == ("not_a_word", 7)
        assert rows_of(reading) == {"weighing": 4}

    def test_line_outside(self, tmp_path: Path) -> None:
        reading = read("balance_slip", tmp_path, "noise\n" + SLIP)
        row = only(reading)
        assert (row["code"], row["source_line"], row["found"]) == ("not_well_formed", 1, "noise")
        assert rows_of(reading) == {"weighing": 5}


class TestWorkbooks:
    """Sheets, headings and cells of the register."""

    def test_missing_sheet(self, tmp_path: Path) -> None:
        sheets = {("Smples" if name == "Samples" else name): rows for name, rows in SHEETS.items()}
        row = only(read("register_book", tmp_path, book(sheets)))
        assert row["code"] == "missing_table"
        assert row["reason"] == "the workbook has no sheet 'Samples'; did you mean 'Smples'?"

    def test_missing_column(self, tmp_path: Path) -> None:
        sheets = SHEETS | {"Cores": [["Sample", "Core", "Station m", "Offset m", "Lift"]]}
        row = only(read("register_book", tmp_path, book(sheets)))
        assert (row["code"], row["column_name"]) == ("missing_column", "Thickness mm")

    def test_bad_cells(self, tmp_path: Path) -> None:
        rows = [list(row) for row in SHEETS["Samples"]]
        rows[1][3], rows[3][8] = "gravel", "soon"
        reading = read("register_book", tmp_path, book(SHEETS | {"Samples": rows}))
        found = reading.refused.sort("source_line").select("code", "source_part", "source_line", "column_name", "found")
        assert found.rows() == [
            ("not_a_word", "Samples", 2, "Material", "gravel"),
            ("not_a_date", "Samples", 4, "Taken on", "soon"),
        ]
        assert "sample" not in rows_of(reading)

    def test_an_optional_sheet_may_be_absent(self, tmp_path: Path) -> None:
        sheets = {name: rows for name, rows in SHEETS.items() if name != "Cores"}
        reading = read("register_book", tmp_path, book(sheets))
        assert reading.refused.rows() == []
        assert "core" not in rows_of(reading)


@pytest.mark.parametrize("name", sorted(examples()))
@pytest.mark.parametrize("content", [b"", b" \r\n\t\n"])
def test_empty(name: str, content: bytes, tmp_path: Path) -> None:
    row = only(read(name, tmp_path, content))
    assert row["code"] in ({"empty"} if not content or name != "register_book" else {"empty", "truncated"})


@pytest.mark.parametrize("name", sorted(TEXTS))
def test_undecodable(name: str, tmp_path: Path) -> None:
    # 0x81 belongs neither to UTF-8 nor to Windows-1252.
    content = examples()[name].replace(b"HB-0012", b"HB-\x810012").replace(b"NORTH", b"N\x81")
    row = only(read(name, tmp_path, content))
    assert row["code"] == "undecodable"
    assert row["reason"].startswith("line ")


def test_too_large(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("plugins.export.Export.read.__defaults__", (100,))
    row = only(read("balance_journal", tmp_path, JOURNAL))
    assert row["code"] == "too_large"


def test_a_value_that_is_huge_is_cut_in_the_refusal(tmp_path: Path) -> None:
    row = only(read("balance_journal", tmp_path, altered("balance_journal", "4712,3", "9x" * 500_000)))
    assert (row["code"], len(row["found"])) == ("not_a_number", 200)
    assert len(row["reason"]) < 400


def test_json_must_be_an_object_of_the_right_shape(tmp_path: Path) -> None:
    data = json.loads(PRESS_JSON)
    assert only(read("press_json", tmp_path, "[1]"))["code"] == "not_well_formed"
    assert only(read("press_json", tmp_path, json.dumps(data | {"heights_mm": 3})))["code"] == "not_well_formed"
    lacking = read("press_json", tmp_path, json.dumps(data | {"specimen": []})).refused
    assert lacking.select("code", "column_name").rows() == [
        ("missing_field", "specimen.sample"),
        ("missing_field", "specimen.piece"),
    ]
    del data["heights_mm"]
    assert only(read("press_json", tmp_path, json.dumps(data)))["code"] == "missing_table"


def test_every_refusal_has_a_remedy_and_a_known_code() -> None:
    for code, entry in CATALOGUE.items():
        frame = refusals([{"code": code, "export_hash": "0" * 64, "reason": "because"}])
        assert frame["remedy"].to_list() == [entry.remedy]
        assert entry.title.endswith(".") and entry.remedy.endswith(".") and entry.expected
    with pytest.raises(KeyError):
        refusals([{"code": "no such code", "export_hash": "", "reason": ""}])
