"""Drafted layouts: what is found in unseen files, what is marked as doubtful, and what the draft reads as it stands."""

import io
import json
import sqlite3
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner

from pipeline.cli.group import group
from pipeline.workspace import Workspace
from plugins.api import Export
from plugins.layout.draft.draft import Draft, draft
from plugins.layout.draft.values import date_forms, decimal_mark, unit_of
from plugins.manager import load
from tests.support import exports

BATH = """\
DENSITY BATH 4
lab balance: DB-4
closed: 17/05/2026 16:40

specimen|air g|bath g|wiped g|bath C
QL-0013/7|4712.3|2742.1|4717.9|25.1
QL-0013/8|4705.0|27e|4711.2|25.0
"""

PRESS = """\
Kneader report;{label}
Machine;K-3
Piece;1
Stop;turns
Turn;Height
no;in
0;5,165
1;5,079
2;5,001
done;3
"""


def drafted(folder: Path, *contents: str | bytes, family: str | None = None) -> Draft:
    paths = []
    for number, content in enumerate(contents):
        path = folder / f"new-{number}.dat"
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        paths.append(path)
    return draft("new_one", paths, family)


def found(made: Draft) -> dict[str, tuple[str, float]]:
    return {note.what: (note.value, note.confidence) for note in made.notes}


def test_a_bath_log_becomes_three_weighings_a_line(tmp_path: Path) -> None:
    made = drafted(tmp_path, BATH)
    assert made.family == "weighing" and made.reading is not None
    rows = made.reading.frames["weighing"]
    assert sorted(zip(rows["role"], rows["mass_g"], strict=True)) == [
        ("dry", 4705.0), ("dry", 4712.3), ("ssd", 4711.2), ("ssd", 4717.9), ("submerged", 2742.1)]  # fmt: skip
    assert set(rows["sample_id"]) == {"QL-0013"} and set(rows["specimen_no"]) == {"7", "8"}
    assert made.reading.refused.select("source_line", "found").rows() == [(7, "27e")]
    assert made.text.count('method = { constant = "t166" }  # ?') == 3
    assert 'datetimes = ["%d/%m/%Y %H:%M"]\n' in made.text  # the 17th cannot be a month


def test_an_ambiguous_day_is_marked(tmp_path: Path) -> None:
    made = drafted(tmp_path, BATH.replace("17/05", "07/05"))
    assert "# ? day and month could be the other way round" in made.text
    assert found(made)["date"] == ("07/05/2026 16:40", 0.5)


def test_units_below_a_decimal_comma_and_a_counted_end(tmp_path: Path) -> None:
    made = drafted(tmp_path, PRESS.format(label="QL-0013").encode("cp1252"), PRESS.format(label="QL-0014"))
    assert made.family == "compaction" and made.fault is None and made.reading is not None
    assert 'decimal = ","' in made.text and 'units = "below"' in made.text and "declared = { end = true }" in made.text
    assert 'turns = "gyrations"' in made.text
    heights = made.reading.frames["compaction_height"]
    assert heights["height_mm"].to_list() == pytest.approx([5.165 * 25.4, 5.079 * 25.4, 5.001 * 25.4] * 2)
    assert made.reading.frames["compaction_run"]["sample_id"].to_list() == ["QL-0013", "QL-0014"]
    assert made.reading.refused.height == 0


@pytest.mark.parametrize(
    ("encoding", "told"), [("utf-16", "utf-16"), ("utf-16-le", "utf-16-le"), ("cp1252", "cp1252"), ("cp850", "cp850")]
)
def test_encodings_are_told_apart(encoding: str, told: str, tmp_path: Path) -> None:
    made = drafted(tmp_path, BATH.replace("bath C", "bäth °C").encode(encoding))
    assert found(made)["encoding"][0] == told
    assert made.reading is not None


def test_slips_documents_workbooks_and_databases(tmp_path: Path) -> None:
    slip = "=" * 20 + "\nSAMPLE       QL-0013\nPIECE              4\nIN AIR        4712.3  g\n" + "=" * 20 + "\n"
    assert 'kind = "slip"' in drafted(tmp_path, slip * 3).text
    steps = [{"gyration": n, "height_mm": 130.0 - n} for n in range(5)]
    given = {"maker": "none", "sample": "QL-0013", "piece": "1", "stop": "gyrations", "steps": steps}
    made = drafted(tmp_path, json.dumps(given))
    assert made.reading is not None and made.reading.frames["compaction_height"].height == 5
    book = openpyxl.Workbook()
    for row in (["Sample", "QL-0013"], [], ["piece", "air g", "bath g", "SSD g"], ["1", 10, 6, 11], ["2", 12, 7, 13]):
        book.active.append(row)  # type: ignore[union-attr]
    out = io.BytesIO()
    book.save(out)
    made = drafted(tmp_path, out.getvalue())
    assert made.reading is not None and made.reading.frames["weighing"].height == 6
    with sqlite3.connect(tmp_path / "x.db") as database:
        database.execute("create table steps (sample text, piece text, gyration integer, height_mm real)")
        database.executemany("insert into steps values ('QL-1', '1', ?, ?)", [(n, 130.0 - n) for n in range(4)])
    database.close()
    made = drafted(tmp_path, (tmp_path / "x.db").read_bytes())
    assert 'kind = "sqlite"' in made.text and 'rows = "steps"' in made.text
    assert made.fault is not None and "needs the field 'sample_id'" in made.fault
    assert '# stop_rule = { constant = "" }  # NEEDED: What ends the compaction. One of gyrations, height.' in made.text


def test_a_toml_card_is_drafted_by_path(tmp_path: Path) -> None:
    card = (
        "# written by hand\nkind = 'press card'\nclosed = 2026-05-17T16:40:00\nstop = \"gyrations\"\n\n"
        '[of]\nsample = "QL-0013"\npiece = "1"\n\n[[steps]]\ngyration = 0\nheight_mm = 130.5\n'
        "[[steps]]\ngyration = 1\nheight_mm = 129\n[[steps]]\ngyration = 2\nheight_mm = 128.25\n"
    )
    made = drafted(tmp_path, card)
    assert made.fault is None and made.reading is not None and made.reading.refused.is_empty()
    heights = made.reading.frames["compaction_height"]
    assert heights.select("sample_id", "specimen_no", "gyration", "height_mm", "source_line").rows() == [
        ("QL-0013", "1", 0, 130.5, 10),
        ("QL-0013", "1", 1, 129.0, 13),
        ("QL-0013", "1", 2, 128.25, 16),
    ]
    for part in ('kind = "toml"', "contains = [\"kind = 'press card'\"]", 'rows = "steps"', 'header = "of.sample"'):
        assert part in made.text
    assert "final_newline = true" in made.text
    inline = card[: card.index("[[steps]]")].replace("[of]", "steps = [{ gyration = 0, height_mm = 1 }]\n[of]")
    assert 'rows = "steps"' in drafted(tmp_path, inline).text


def test_text_that_is_no_toml_is_looked_at_as_text(tmp_path: Path) -> None:
    assert 'kind = "delimited"' in drafted(tmp_path, BATH).text
    assert 'kind = "toml"' not in drafted(tmp_path, "# nothing but a remark\n" + BATH).text


@pytest.mark.parametrize("name", ["sampling_card", "mix_card"])
def test_cards_of_the_demo_are_drafted_whole(name: str) -> None:
    """What a draft reads of a shipped card is what its own layout reads, in the fields both have."""
    path = next(path for path in exports(f"{name}/*") if b"stockpiles" not in path.read_bytes())
    made = draft("drafted", [path])
    assert made.fault is None and made.reading is not None and made.reading.refused.is_empty()
    own = next(one for one in load().importers if one.name == name).read([Export.from_path(path)])
    record = made.reading.frames.keys() & own.frames.keys()
    assert record
    for each in record:
        both = [column for column in own.frames[each].columns if column in made.reading.frames[each].columns]
        assert len(both) > 8 and made.reading.frames[each].select(both).equals(own.frames[each].select(both))


def test_values() -> None:
    assert decimal_mark(["1.234,5", "2,0"])[:2] == (",", ".")
    assert decimal_mark(["1,234"])[3] == 0.5  # a comma before three digits may part thousands
    assert date_forms(["31.12.2026", "01.02.2026"]) == ["%d.%m.%Y"]
    assert len(date_forms(["01/02/2026"])) == 2
    assert [unit_of(name) for name in ("Load [lbf]", "height mm", "kN", "sample", "bath °C")] == [
        "lbf", "mm", "kN", None, "°C"]  # fmt: skip


def test_the_command_writes_one_folder_that_checks(lab: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(lab.root)
    Path("bath.txt").write_text(BATH, encoding="utf-8")
    done = CliRunner().invoke(group, ["draft", "bath.txt", "--name", "density_bath"], catch_exceptions=False)
    assert done.exit_code == 0 and "as it stands it reads 5 weighing, and refuses 1" in done.output
    folder = lab.importers / "density_bath"
    names = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    assert names == ["README.md", "expected/bath.txt.weighing.csv", "layout.toml", "samples/bath.txt"]
    checked = CliRunner().invoke(group, ["check", "bath.txt"], catch_exceptions=False)
    assert checked.output.startswith("bath.txt: density_bath; would accept 5 weighing\n")
    again = CliRunner().invoke(group, ["draft", "bath.txt", "--name", "density_bath"])
    assert again.exit_code == 2 and "is there already: use another --name, or --force" in again.output


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["bath.txt", "--family", "wine"], "there is no family 'wine'; families are "),
        (["bath.txt", "--name", "../x"], "'../x' is no name for a folder"),
        (["empty.txt"], "empty.txt cannot be looked at: the file holds nothing but white space"),
        (["bomb.xml"], "bomb.xml cannot be looked at: the file declares a document type or an entity"),
        (["half.xlsx"], "half.xlsx cannot be looked at: the workbook is not a whole archive"),
    ],
)
def test_what_cannot_be_drafted(
    arguments: list[str], said: str, lab: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(lab.root)
    Path("bath.txt").write_text(BATH, encoding="utf-8")
    Path("empty.txt").write_text(" \n", encoding="utf-8")
    Path("bomb.xml").write_text('<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>', encoding="utf-8")
    Path("half.xlsx").write_bytes(b"PK\x03\x04" + b"x" * 50)
    done = CliRunner().invoke(group, ["draft", *arguments])
    assert done.exit_code == 2 and said in done.output.replace("\n       ", " ")
    assert not list(lab.importers.glob("*"))
