"""Faults of a layout point at its own line; everything it names is held against the schemas."""

from pathlib import Path

import polars as pl
import pytest

from plugins.api import Export
from plugins.layout import load, model
from plugins.layout.bound import bind
from plugins.layout.importer import LayoutImporter
from plugins.layout.lines import json_line, json_lines, nearest_line, toml_lines
from plugins.layout.section import LayoutError
from tests.unit.plugins.examples import examples, export, importers

GOOD = """\
name = "scale"
kind = "delimited"

[recognise]
starts = "Scale;"

[tables.rows]
heading = "Label;"

[[record]]
record = "weighing"
table = "rows"

[record.fields]
sample_id = { column = "Label" }
specimen_no = { constant = "1" }
method = { constant = "t166" }
role = { column = "What", words = "roles" }
mass_g = { column = "Ounces", unit = "oz" }
issued_at = { header = "On" }
stated_at = { header = "On" }

[words.roles]
Dry = "dry"

[header]
separator = ";"
"""


def parsed(old: str = "", new: str = "") -> model.Layout:
    assert old in GOOD
    return load.parse(GOOD.replace(old, new, 1).encode(), "scale/layout.toml")


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("starts =", "begins =", "line 5: [recognise] has no key 'begins'"),
        ("heading =", "headin =", "line 8: [tables.rows] has no key 'headin'; did you mean 'heading'?"),
        ('unit = "oz"', 'units = "oz"', "line 19: [record.0.fields.mass_g] has no key 'units'; did you mean 'unit'?"),
        ('"delimited"', '"delimted"', "line 2: 'kind' is 'delimted'; expected one of delimited, fixed, slip, json,"
         " toml, xml, workbook, sqlite; did you mean 'delimited'?"),
        ('name = "scale"\n', "", "line 1: the layout lacks 'name'; write name = \"density_bath\""),
        ('name = "scale"', "name = 3", "line 1: 'name' must be a text, not 3"),
        ('table = "rows"', 'table = "row"', "line 10: the record names the table 'row', which is not declared;"
         " did you mean 'rows'?"),
        ('words = "roles"', 'words = "rolls"', "line 18: there is no list [words.rolls]; did you mean 'roles'?"),
        ('{ constant = "1" }', "{}",
         "line 16: 'specimen_no' must have exactly one of 'column', 'header', 'constant' and"
         " 'file_name'"),
        ('"Scale;"', '"Scale;', None),
        ('[recognise]\nstarts = "Scale;"\n', "",
         "line 1: the layout lacks [recognise]: without it nothing would ever be read"),
    ],
)  # fmt: skip
def test_a_fault_points_at_its_line(old: str, new: str, message: str | None) -> None:
    with pytest.raises(LayoutError) as caught:
        parsed(old, new)
    if message is None:
        assert str(caught.value).startswith("scale/layout.toml, line 5: this is not TOML: ")
    else:
        assert str(caught.value) == "scale/layout.toml, " + message


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('record = "weighing"', 'record = "weighting"',
         "line 10: there is no record 'weighting'; did you mean 'weighing'?"),
        ("mass_g =", "mas_g =", "line 19: the record 'weighing' has no field 'mas_g'; did you mean 'mass_g'?"),
        ('"t166"', '"t167"', "line 17: 't167' is no word of 'method': one of t166, "),
        ('Dry = "dry"', 'Dry = "damp"', "line 18: 'damp' is no word of 'role': one of dry, "),
        ('"oz"', '"hour"', "line 19: the unit 'hour' of 'mass_g' cannot be converted to 'g'"),
        ('sample_id = { column = "Label" }\n', "", "line 10: the record 'weighing' needs the field 'sample_id'"),
    ],
)  # fmt: skip
def test_a_layout_is_held_against_the_schemas(old: str, new: str, message: str) -> None:
    with pytest.raises(LayoutError) as caught:
        bind(parsed(old, new))
    assert str(caught.value).startswith("scale/layout.toml, " + message)


def test_a_layout_that_names_what_is_not_there_refuses_its_exports(tmp_path: Path) -> None:
    importer = LayoutImporter(parsed("mass_g =", "mas_g ="), "0" * 64)
    reading = importer.read([export(tmp_path, "Scale;x\n")])
    assert reading.refused["code"].to_list() == ["importer_failed"]
    assert "scale/layout.toml, line 19" in reading.refused["reason"].to_list()[0]


def test_ounces_become_grams(tmp_path: Path) -> None:
    text = "Scale;S\nOn;2026-05-07 09:00\nLabel;What;Ounces\nA;dry;100\nB;DRY;1\n"
    reading = LayoutImporter(parsed(), "0").read([export(tmp_path, text)])
    assert reading.refused.rows() == []
    # One avoirdupois ounce is 28.349523125 g exactly (international yard and pound agreement, 1959).
    assert reading.frames["weighing"]["mass_g"].to_list() == pytest.approx([2834.9523125, 28.349523125], rel=1e-12)
    assert reading.frames["weighing"]["role"].to_list() == ["dry", "dry"]


def test_repeats_and_numbers_are_filled_in() -> None:
    layout = load.load(Path(model.__file__).parents[1] / "importers" / "track_table" / "layout.toml")
    right = [plan for plan in layout.records if plan.record == "wheel_depth"][1]
    fields = {plan.target: plan for plan in right.fields}
    assert fields["depth_01_mm"].column == "R1" and fields["depth_11_mm"].column == "R11"
    assert fields["wheel"].constant == "right"
    assert "depth_12_mm" not in fields


@pytest.mark.parametrize("name", sorted(importers()))
def test_every_shipped_layout_binds_and_has_a_note(name: str) -> None:
    importer = importers()[name]
    assert isinstance(importer, LayoutImporter)
    assert {record.description.name for record in bind(importer.layout)} == set(importer.gives)
    note = Path(model.__file__).parents[1] / "importers" / name / "README.md"
    text = note.read_text("utf-8")
    assert all(
        f"## {title}" in text for title in ("Instrument", "How the export is made", "What is not read", "Hazards")
    )


def test_each_example_is_claimed_by_its_own_importer_only(tmp_path: Path) -> None:
    for name, content in examples().items():
        one = export(tmp_path, content, name)
        claims = {other: reason for other, importer in importers().items() if (reason := importer.claims(one))}
        assert list(claims) == [name]


@pytest.mark.parametrize(
    "content", [b"", b"\x00" * 9000, b"\xff\xfe", b"PK\x03\x04" + bytes(100), b"<html/>", b"{}", "Ünï".encode()]
)
def test_nobody_claims_strangers(content: bytes, tmp_path: Path) -> None:
    one = export(tmp_path, content)
    assert [name for name, importer in importers().items() if importer.claims(one)] == []


def test_recognition_looks_past_mark_and_white_space(tmp_path: Path) -> None:
    compact = export(tmp_path, '{"machine":"x","kind":"gyratory compaction"}')
    marked = export(tmp_path, b"\xef\xbb\xbfTrack test\tWT-1\n")
    wide = export(tmp_path, "Track test\tWT-1\n".encode("utf-16"))
    assert importers()["press_json"].claims(compact) == (
        "it starts with '{' and its head contains '\"kind\": \"gyratory compaction\"'"
    )
    assert importers()["track_table"].claims(marked) == "it starts with 'Track test'"
    assert importers()["track_table"].claims(wide) is not None


def test_a_head_cut_inside_a_character_is_still_text() -> None:
    head = ("Weighing journal;" + "°" * 8000).encode()[:8192]
    one = Export("x", "0", Path("x"), 9000, head)
    assert importers()["balance_journal"].claims(one) is not None


def test_lines_of_keys() -> None:
    toml = 'a = 1\n# b = 2\n[c]\n"d.e" = 3\nf.g = 4\n[[h]]\ni = 5\n[[h]]\ni = 6\n  [h.j]\n  k = 7\n'
    lines = toml_lines(toml)
    expected = {("a",): 1, ("c",): 3, ("c", "d.e"): 4, ("c", "f", "g"): 5, ("h", 0): 6, ("h", 1, "i"): 9}
    assert {path: lines[path] for path in expected} == expected
    assert lines[("h", 1, "j", "k")] == 11
    assert nearest_line(lines, ("h", 1, "x", "y")) == 8 and nearest_line(lines, ("z",)) == 1
    keys = json_lines('{"a": {"b": 1},\n "c": {"d": "b",\n "b": 2}}')
    assert json_line(keys, ("c", "b")) == 3 and json_line(keys, ("a", "b")) == 1


def test_lines_of_tables_in_a_list_of_lines() -> None:
    items = 'a = [ # two\n  { b = "]}{", c = [1, 2] }, { b = 2 },\n\n  # { no }\n  { b = 3 },\n]\n'
    toml = items + 'd = [\n  [1, 2],\n  "e",\n]\nf = 4\n'
    lines = toml_lines(toml)
    assert {path: line for path, line in lines.items() if path[0] == "a"} == {
        ("a",): 1,
        ("a", 0): 2,
        ("a", 1): 2,
        ("a", 2): 5,
    }
    assert lines[("d",)] == 7 and lines[("f",)] == 11


def test_reading_declares_its_columns(tmp_path: Path) -> None:
    frame = importers()["balance_journal"].read([export(tmp_path, examples()["balance_journal"])]).frames["weighing"]
    assert frame.schema["mass_g"] == pl.Float64
    assert frame.schema["stated_at"] == pl.Datetime("us")
    assert frame.schema["source_line"] == pl.Int64
