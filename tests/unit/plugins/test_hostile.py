"""Exports as hostile input: entities, archives that expand, markup, formulas, NUL bytes, re-encoded copies."""

import io
import struct
import zipfile
from pathlib import Path

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from plugins.api import Reading, Refusing
from plugins.layout import archive
from tests.unit.plugins.examples import JOURNAL, PRESS_JSON, SHEETS, TRACK, TRACK_XML, book, examples, export, importers

TEXTS = sorted(set(examples()) - {"register_book"})


def read(name: str, folder: Path, content: bytes | str, file: str = "export") -> Reading:
    return importers()[name].read([export(folder, content, file)])


def codes(reading: Reading) -> list[str]:
    return reading.refused["code"].to_list()


def same(left: Reading, right: Reading) -> None:
    assert left.refused.drop("export_hash").equals(right.refused.drop("export_hash"))
    assert set(left.frames) == set(right.frames)
    for name, frame in left.frames.items():
        assert_frame_equal(frame.drop("export_hash"), right.frames[name].drop("export_hash"))


@pytest.mark.parametrize(
    "doctype",
    [
        '<!DOCTYPE a [<!ENTITY b "HB-0012">]>',
        '<!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/hostname">]>',
        '<!DOCTYPE a SYSTEM "http://localhost/a.dtd">',
        "<!DOCTYPE a [" + "".join(f'<!ENTITY b{n} "{f"&b{n - 1};" * 10}">' for n in range(1, 9)) + "]>",
    ],
)
def test_xml_entities_are_refused(doctype: str, tmp_path: Path) -> None:
    content = TRACK_XML.replace("?>\n", "?>\n" + doctype, 1).replace('id="HB-0012"', 'id="&b;"')
    reading = read("track_xml", tmp_path, content)
    assert codes(reading) == ["entities_refused"]
    assert reading.refused["reason"].to_list() == ["line 2: the file declares a document type or an entity"]
    assert all(frame.height == 0 for frame in reading.frames.values())


@pytest.mark.parametrize(("name", "content"), [
    ("press_json", '{"kind": "gyratory compaction", "heights_mm": ' + "[" * 100_000),
    ("track_xml", "<trackTest machine='x'>" + "<a>" * 100_000),
    ("press_json", PRESS_JSON.replace("127.25", "9" * 5000)),
    ("mix_card", 'kind = "mix card"\n[' + " " * 200_000),
    ("mix_card", 'kind = "mix card"\n' + "a." * 200_000 + "a = 1"),
    ("mix_card", 'kind = "mix card"\nx = ' + "[" * 9_000),
    ("balance_journal", "Weighing journal;x\nNo;" + ";" * 500_000),
    ("balance_journal", JOURNAL.replace("No;", "No;" + "x;" * 5_000)),
])  # fmt: skip
def test_what_would_take_time_or_memory_without_end(name: str, content: str, tmp_path: Path) -> None:
    assert codes(read(name, tmp_path, content))[0] in {"not_well_formed", "truncated"}


def test_a_workbook_that_expands_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archive, "EXPANDED_LIMIT", 1_000_000)
    packed = io.BytesIO(book(SHEETS))
    with zipfile.ZipFile(packed, "a", zipfile.ZIP_DEFLATED) as file:
        file.writestr("xl/media/blank.bin", bytes(2_000_000))
    assert len(packed.getvalue()) < 30_000
    assert codes(read("register_book", tmp_path, packed.getvalue())) == ["too_large"]


def test_a_workbook_that_lies_about_its_size_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archive, "EXPANDED_LIMIT", 1_000_000)
    packed = io.BytesIO(book(SHEETS))
    with zipfile.ZipFile(packed, "a", zipfile.ZIP_DEFLATED) as file:
        file.writestr("xl/media/blank.bin", bytes(2_000_000))
    truth = struct.pack("<I", 2_000_000)
    content = packed.getvalue()
    assert content.count(truth) == 2  # in the member's own head and in the directory
    assert codes(read("register_book", tmp_path, content.replace(truth, struct.pack("<I", 20)))) == ["too_large"]


def test_a_sheet_with_one_far_cell_is_refused(tmp_path: Path) -> None:
    far = SHEETS | {"Notes": [["far below"]]}
    source = zipfile.ZipFile(io.BytesIO(book(far)))
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as file:
        for member in source.namelist():
            content = source.read(member)
            if member.endswith("sheet8.xml"):
                content = content.replace(b"</row>", b'</row><row r="1048576"><c r="XFD1048576"><v>1</v></c></row>')
            file.writestr(member, content)
    reading = read("register_book", tmp_path, packed.getvalue())
    assert codes(reading) == ["too_large"]
    assert reading.refused["reason"].to_list() == ["a sheet spans 1,048,576 rows and 16,384 columns"]


def test_a_damaged_workbook_is_refused(tmp_path: Path) -> None:
    whole = book(SHEETS)
    assert codes(read("register_book", tmp_path, whole[:-200])) == ["truncated"]
    assert codes(read("register_book", tmp_path, whole[:60] + bytes(200) + whole[260:]))[0] in {
        "not_well_formed",
        "truncated",
    }


def test_the_archive_guard_counts_what_comes_out(monkeypatch: pytest.MonkeyPatch) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("a", b"a" * 1000)
    monkeypatch.setattr(archive, "EXPANDED_LIMIT", 1000)
    archive.guard(packed.getvalue())
    monkeypatch.setattr(archive, "EXPANDED_LIMIT", 999)
    with pytest.raises(Refusing, match="expands to more than 999 bytes"):
        archive.guard(packed.getvalue())


@pytest.mark.parametrize(
    "label", ["<script>alert(1)</script>", "=1+1", "../../x", "{0}", "a\x00b", "' OR 1=1 --", "\u202eab"]
)
def test_labels_are_only_text(label: str, tmp_path: Path) -> None:
    frame = read("balance_journal", tmp_path, JOURNAL.replace("HB-0013", label)).frames["weighing"]
    assert frame["sample_id"].to_list() == ["HB-0012", "HB-0012", label]
    refused = read("balance_journal", tmp_path, JOURNAL.replace("bulk", label, 1)).refused
    assert refused["found"].to_list() == [label]


@pytest.mark.parametrize("name", TEXTS)
def test_line_ends_do_not_matter(name: str, tmp_path: Path) -> None:
    content = examples()[name]
    plain = read(name, tmp_path, content)
    same(plain, read(name, tmp_path, content.replace(b"\n", b"\r\n")))
    if name != "track_xml":  # a parser of XML counts a lone carriage return its own way
        same(plain, read(name, tmp_path, content.replace(b"\n", b"\r")))


@pytest.mark.parametrize("name", TEXTS)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_a_reencoded_copy_is_read_equally_or_refused(name: str, encoding: str, tmp_path: Path) -> None:
    text = examples()[name].decode("cp1252" if name == "balance_journal" else "utf-8-sig")
    copy = read(name, tmp_path, text.encode(encoding))
    if copy.refused.height:
        assert set(codes(copy)) <= {"undecodable", "not_well_formed"}
        assert all(frame.height == 0 for frame in copy.frames.values())
    else:
        same(read(name, tmp_path, examples()[name]), copy)


@pytest.mark.parametrize("name", sorted(set(examples()) - {"mix_card", "limits_card"}))
def test_a_copy_cut_anywhere_is_never_read_in_silence(name: str, tmp_path: Path) -> None:
    content = examples()[name]
    whole = read(name, tmp_path, content)
    for cut in range(1, len(content.rstrip()), max(1, len(content) // 12)):
        part = read(name, tmp_path, content[:cut])
        assert part.refused.height > 0 or name == "balance_slip", cut
        if name != "balance_slip":
            assert all(frame.height == 0 for frame in part.frames.values()), cut
        else:
            # A file of slips cut between two of them is a shorter file of slips; each slip in it is whole.
            mine = part.frames.get("weighing", pl.DataFrame({"source_line": []}))
            kept = whole.frames["weighing"].filter(pl.col("source_line").is_in(mine["source_line"].to_list()))
            assert kept.height == mine.height


def test_a_table_cut_in_its_last_number_is_refused(tmp_path: Path) -> None:
    assert codes(read("track_table", tmp_path, TRACK[:-2])) == ["truncated"]
