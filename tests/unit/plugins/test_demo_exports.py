"""The demo's exports, read a second time with the standard library alone: the figures must be equal."""

import csv
import json
import re
import sqlite3
import tomllib
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from xml.etree import ElementTree

import openpyxl
import polars as pl
import pytest

from plugins.api import Export, Reading
from tests.unit.plugins.examples import importers

ROOT = Path(__file__).parents[3] / "sample_exports"

Row = tuple[object, ...]
DEPTHS = [f"depth_{position:02}_mm" for position in range(1, 12)]


def read(name: str) -> tuple[list[Path], Reading, dict[str, Path]]:
    paths = sorted((ROOT / name).iterdir())
    exports = [Export.from_path(path) for path in paths]
    reading = importers()[name].read(exports)
    refused = set(reading.refused.filter(pl.col("source_line").is_null())["export_hash"])
    whole = [one.path for one in exports if one.hash not in refused]
    assert whole
    return whole, reading, {one.hash: one.path for one in exports}


def lines_refused(reading: Reading, paths: dict[str, Path]) -> set[tuple[Path, int]]:
    rows = reading.refused.select("export_hash", "source_line").rows()
    return {(paths[export], line) for export, line in rows if line is not None}


def compare(reading: Reading, record: str, columns: list[str], expected: Iterator[Row]) -> None:
    found = reading.frames[record].select(columns).rows()
    wanted = list(expected)
    assert len(wanted) > 10
    assert sorted(found, key=repr) == sorted(wanted, key=repr)


def number(text: str) -> float | None:
    return float(text.replace(",", ".")) if text else None


def test_every_demo_export_is_claimed_once() -> None:
    for path in sorted(ROOT.rglob("*")):
        if path.is_file():
            one = Export.from_path(path)
            claims = [name for name, importer in importers().items() if importer.claims(one)]
            assert claims == ([path.parent.name] if path.parent.name in importers() else []), path.name


def test_journals() -> None:
    whole, reading, paths = read("balance_journal")
    bad = lines_refused(reading, paths)

    def rows() -> Iterator[Row]:
        for path in whole:
            with path.open(encoding="cp1252", newline="") as file:
                for line, cells in enumerate(csv.reader(file, delimiter=";"), start=1):
                    if cells and cells[0].isdigit() and (path, line) not in bad:
                        yield cells[2], cells[3], line, number(cells[6]), number(cells[7]), number(cells[8])

    columns = ["sample_id", "specimen_no", "source_line", "sieve_mm", "mass_g", "water_temperature_c"]
    compare(reading, "weighing", columns, rows())


def test_slips() -> None:
    whole, reading, _ = read("balance_slip")

    def rows() -> Iterator[Row]:
        for path in whole:
            sample = ""
            for line, text in enumerate(path.read_text("ascii").splitlines(), start=1):
                words = text.split()
                if words[0] == "SAMPLE":
                    sample = words[1]
                elif words[-1] == "g":
                    yield sample, line, float(words[-2])

    compare(reading, "weighing", ["sample_id", "source_line", "mass_g"], rows())


def test_press_reports() -> None:
    whole, reading, _ = read("press_report")

    def rows() -> Iterator[Row]:
        for path in whole:
            head, _, table = path.read_text("utf-8").partition("\n\n")
            values = dict(line.split(" = ") for line in head.splitlines()[1:])
            for line in table.splitlines()[1:-1]:
                gyration, height = line.split()
                yield values["sample"], values["piece"], int(gyration), float(height)

    compare(reading, "compaction_height", ["sample_id", "specimen_no", "gyration", "height_mm"], rows())


def test_press_json() -> None:
    whole, reading, _ = read("press_json")

    def rows() -> Iterator[Row]:
        for path in whole:
            data = json.loads(path.read_bytes())
            for gyration, height in enumerate(data["heights_mm"]):
                yield data["specimen"]["sample"], data["specimen"]["piece"], gyration, height

    compare(reading, "compaction_height", ["sample_id", "specimen_no", "gyration", "height_mm"], rows())


def test_press_tapes() -> None:
    """A pound is 0.45359237 kg and an inch 25.4 mm exactly (international yard and pound agreement, 1959)."""
    whole, reading, _ = read("press_tape")

    def rows() -> Iterator[Row]:
        for path in whole:
            label = ""
            for line, text in enumerate(path.read_text("ascii").splitlines(), start=1):
                words = text.split()
                if words[0] == "PIECE":
                    label = words[1]
                elif len(words) == 2 and words[0].isdigit():
                    yield label, line, int(words[0]), round(float(words[1]) * 25.4, 6)

    frame = reading.frames["compaction_height"]
    label = pl.concat_str("sample_id", pl.lit("/"), "specimen_no").alias("label")
    reading.frames["compaction_height"] = frame.with_columns(label, pl.col("height_mm").round(6))  # type: ignore[index]
    compare(reading, "compaction_height", ["label", "source_line", "gyration", "height_mm"], rows())
    charge = next(line for line in whole[0].read_text("ascii").splitlines() if " LB" in line)
    assert reading.frames["compaction_run"]["mass_g"][0] == pytest.approx(
        float(charge.split()[0]) * 453.59237, rel=1e-12
    )


def test_furnace_sheets_and_shaker_logs() -> None:
    whole, reading, _ = read("furnace_sheet")
    masses = [float(mass) for path in whole for mass in re.findall(r"([\d.]+) g", path.read_text("ascii"))]
    assert len(masses) > 40
    assert sorted(reading.frames["weighing"]["mass_g"]) == sorted(masses)
    whole, reading, _ = read("shaker_log")

    def rows() -> Iterator[Row]:
        for path in whole:
            lines = list(csv.reader(path.read_text("utf-8").splitlines()))
            for line, cells in enumerate(lines[3:-1], start=4):
                for name, mass in zip(lines[2][4:], cells[4:], strict=True):
                    opening = 0.0 if name == "Pan g" else float(name.split()[1]) if name[:3] == "On " else None
                    if mass:
                        yield cells[0], line, opening, float(mass)

    compare(reading, "weighing", ["sample_id", "source_line", "sieve_mm", "mass_g"], rows())


def test_weighing_books_and_mix_books() -> None:
    whole, reading, _ = read("balance_book")

    def rows() -> Iterator[Row]:
        for path in whole:
            sheet = openpyxl.load_workbook(path)["Flask day"]
            for line, cells in enumerate(sheet.iter_rows(min_row=6, values_only=True), start=6):
                yield from ((cells[0], line, cell) for cell in cells[3:6] if cells[0] != "portions")

    compare(reading, "weighing", ["sample_id", "source_line", "mass_g"], rows())
    whole, reading, _ = read("mix_book")
    curve = openpyxl.load_workbook(whole[0])["Curve"].iter_rows(min_row=2, values_only=True)
    assert reading.frames["mix_gradation"].select("sieve_mm", "passing_pct").rows() == list(curve)
    design = dict(openpyxl.load_workbook(whole[0])["Design"].iter_rows(values_only=True))
    (row,) = reading.frames["mix_design"].to_dicts()
    assert (row["gsb"], row["pb_pct"], row["n_design"]) == (
        design["Aggregate bulk gravity"],
        design["Binder, % of mix"],
        design["Turns, design level"],
    )


def test_track_stores_and_frame_records() -> None:
    whole, reading, _ = read("track_store")
    wheels = {"west": "left", "east": "right"}

    def ruts() -> Iterator[Row]:
        for path in whole:
            with closing(sqlite3.connect(path)) as stored:
                for lane, *rest in stored.execute("select * from ruts"):
                    yield path.stem, wheels[lane], *rest

    compare(reading, "wheel_depth", ["sample_id", "wheel", "wheel_pass", *DEPTHS], ruts())
    whole, reading, _ = read("frame_record")

    def points() -> Iterator[Row]:
        for path in whole:
            for line, text in enumerate(path.read_text("utf-16").splitlines(), start=1):
                cells = text.split("\t")
                if len(cells) == 4 and cells[0].isdigit():
                    yield line, *(number(cell) for cell in cells[1:])

    compare(reading, "load_point", ["source_line", "time_s", "displacement_mm", "load_n"], points())


def test_frame_traces() -> None:
    whole, reading, _ = read("frame_trace")

    def rows() -> Iterator[Row]:
        for path in whole:
            lines = path.read_text("utf-8").splitlines()
            head = dict(line.split("|") for line in lines[:12] if line.count("|") == 1)
            for number, line in enumerate(lines, start=1):
                if line.count("|") == 3 and line[0].isdigit():
                    count, second, way, load = line.split("|")
                    yield head["Sample"], head["Piece"], number, int(count), float(second), float(way), load

    columns = ["sample_id", "specimen_no", "source_line", "reading", "time_s", "displacement_mm"]
    in_kn = (pl.col("load_n") / 1000).map_elements(lambda load: f"{load:.3f}", pl.String).alias("kn")
    reading.frames["load_point"] = reading.frames["load_point"].with_columns(in_kn)
    compare(reading, "load_point", [*columns, "kn"], rows())


def test_track_tables() -> None:
    whole, reading, _ = read("track_table")

    def rows() -> Iterator[Row]:
        for path in whole:
            lines = path.read_text("utf-8-sig").splitlines()
            sample = next(line.split("\t")[1] for line in lines if line.startswith("Sample\t"))
            for line in lines:
                cells = line.split("\t")
                if len(cells) == 23 and cells[0] != "pass":
                    for wheel, first in (("left", 1), ("right", 12)):
                        yield sample, wheel, int(cells[0]), *map(float, cells[first : first + 11])

    compare(reading, "wheel_depth", ["sample_id", "wheel", "wheel_pass", *DEPTHS], rows())


def test_track_xml() -> None:
    whole, reading, _ = read("track_xml")

    def rows() -> Iterator[Row]:
        for path in whole:
            root = ElementTree.parse(path).getroot()
            sample = root.find("sample")
            assert sample is not None
            for wheel in root.findall("wheel"):
                for one in wheel.findall("reading"):
                    depths = [float(depth.text or "") for depth in one.findall("d")]
                    yield sample.get("id"), wheel.get("side"), int(one.get("pass", "")), *depths

    compare(reading, "wheel_depth", ["sample_id", "wheel", "wheel_pass", *DEPTHS], rows())


@pytest.mark.parametrize(
    ("sheet", "record", "columns", "heads"),
    [
        ("Samples", "sample", ["sample_id", "mix_id", "lot"], ["Sample", "Mix", "Lot"]),
        ("Cores", "core", ["sample_id", "station_m", "thickness_mm"], ["Sample", "Station m", "Thickness mm"]),
        ("Calibrations", "calibration", ["instrument_id", "outcome"], ["Instrument", "Outcome"]),
    ],
)
def test_register(sheet: str, record: str, columns: list[str], heads: list[str]) -> None:
    whole, reading, _ = read("register_book")

    def rows() -> Iterator[Row]:
        for path in whole:
            book = openpyxl.load_workbook(path, read_only=True)
            head, *body = book[sheet].iter_rows(values_only=True)
            at = [head.index(name) for name in heads]
            for line, row in enumerate(body, start=2):
                if any(cell is not None for cell in row):
                    yield line, *(row[position] for position in at)

    found = reading.frames[record].select("source_line", *columns).rows()
    wanted = [tuple(_plain(cell) for cell in row) for row in rows()]
    assert len(wanted) > 10
    assert sorted(tuple(_plain(cell) for cell in row) for row in found) == sorted(wanted)


def _plain(cell: object) -> str:
    """Return a cell as text in which 1, 1.0 and '1' are the same."""
    try:
        return repr(float(str(cell)))
    except ValueError:
        return str(cell)


def test_mix_cards() -> None:
    whole, reading, _ = read("mix_card")

    def rows() -> Iterator[Row]:
        for path in whole:
            data = tomllib.loads(path.read_text("utf-8"))
            for sieve, passing in data["gradation"].items():
                yield data["mix"], data["revision"], float(sieve), passing, data["written"]

    compare(reading, "mix_gradation", ["mix_id", "revision", "sieve_mm", "passing_pct", "issued_at"], rows())


def test_stockpiles_of_mix_cards() -> None:
    whole, reading, _ = read("mix_card")

    def rows() -> Iterator[Row]:
        for path in whole:
            text = path.read_text("utf-8")
            data, lines = tomllib.loads(text), text.splitlines()
            for pile in data.get("stockpiles", []):
                (line,) = (n for n, one in enumerate(lines, start=1) if f'name = "{pile["name"]}"' in one)
                figures = (pile[each] for each in ("name", "share_pct", "source", "gsb"))
                yield data["mix"], data["revision"], *figures, line

    columns = ["mix_id", "revision", "stockpile", "share_pct", "source", "gsb", "source_line"]
    compare(reading, "stockpile", columns, rows())


def test_limits_cards() -> None:
    whole, reading, _ = read("limits_card")

    def rows() -> Iterator[Row]:
        for path in whole:
            data = tomllib.loads(path.read_text("utf-8"))
            for limit in data["limit"]:
                bounds = [None if (bound := limit.get(key)) is None else float(bound) for key in ("lower", "upper")]
                yield data["set"], limit["id"], *bounds, limit["required"], " ".join(limit["excluding"]) or None

    columns = ["set_id", "limit_id", "lower", "upper", "required", "excluding_flags"]
    compare(reading, "specification_limit", columns, rows())
