"""The demo's exports, read a second time with the standard library alone: the figures must be equal."""

import csv
import json
import re
import sqlite3
import tomllib
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any
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


def _headed(lines: list[str], separator: str) -> dict[str, str]:
    """Return the header lines of an export by their keys."""
    return dict(line.split(separator, 1) for line in lines if separator in line)


def test_caliper_logs() -> None:
    """Readings side by side, the unit in a column of its own; an inch is 25.4 mm exactly."""
    whole, reading, _ = read("caliper_log")
    roles = {"height": ("t269", "height"), "across": ("t269", "diameter"), "thickness": ("d3549", "thickness")}
    millimetres = {"mm": 1.0, "in": 25.4}

    def rows() -> Iterator[Row]:
        for path in whole:
            lines = path.read_text("utf-8").splitlines()
            caliper = lines[0].rpartition(" ")[2]
            for row in csv.DictReader(line for line in lines[3:] if not line.startswith("lines,")):
                for turn in range(1, 10):
                    if length := row.get(f"r{turn}"):
                        what = (*roles[row["what"]], turn, round(float(length) * millimetres[row["unit"]], 9))
                        yield row["sample"], row["piece"], *what, caliper

    columns = ["sample_id", "specimen_no", "method", "role", "reading", "length_mm", "instrument_id"]
    compare(reading, "dimension", columns, rows())


def test_core_logs() -> None:
    whole, reading, _ = read("core_log")

    def cores() -> Iterator[tuple[str, str, ElementTree.Element]]:
        for path in whole:
            root = ElementTree.parse(path).getroot()
            for core in root.findall("core"):
                yield root.get("sample", ""), root.get("caliper", ""), core

    def turns() -> Iterator[Row]:
        for sample, caliper, core in cores():
            for turn in core.findall("around"):
                assert turn.get("unit") == "mm"
                yield sample, core.get("no"), int(turn.get("turn", "")), float(turn.get("thick", "")), caliper

    places = [
        (sample, core.get("no"), float(core.get("station", "")), float(core.get("offset", "")), core.get("insteadOf"))
        for sample, _, core in cores()
    ]
    columns = ["sample_id", "specimen_no", "reading", "length_mm", "instrument_id"]
    compare(reading, "dimension", columns, turns())
    compare(reading, "core", ["sample_id", "specimen_no", "station_m", "offset_m", "replaces"], iter(places))


#: Units in which gauges write -> stored unit; by the pound and the foot of 1959, both exact (NIST SP 811, B.8).
GAUGES = {"m": 1.0, "ft": 0.3048, "kg/m³": 1.0, "lb/ft³": 0.45359237 / 0.3048**3, "%": 1.0}


def test_gauge_rounds() -> None:
    """Units stand in brackets in the heading, that of the number to be added behind it, which may be `none`."""
    whole, reading, _ = read("gauge_round")
    wanted: list[list[object]] = []
    units: set[str] = set()
    for path in whole:
        lines = path.read_text("utf-8").splitlines()
        head = _headed(lines, " = ")
        start = next(at for at, line in enumerate(lines) if line.startswith("place,"))
        written = re.findall(r"\[(.+?)\]", lines[start])
        units |= set(written)
        added = head["to be added"].split(" ")
        correlation = None if added == ["none"] else float(added[0]) * GAUGES[added[1]]
        counts = int(head["standard density"]), int(head["standard moisture"])
        for line in lines[start + 1 : -1]:
            place, turn, *numbers = line.split(",")
            figures = [float(one) * GAUGES[unit] for one, unit in zip(numbers, written, strict=True)]
            wanted.append([head["sample"], place, int(turn), *figures, *counts, correlation])
    columns = ["sample_id", "specimen_no", "reading", "station_m", "offset_m", "gauge_density_kg_m3"]
    counted = ["gauge_moisture_pct", "standard_count_density", "standard_count_moisture", "correlation_kg_m3"]
    found = reading.frames["gauge_reading"].select(columns + counted).rows()
    assert {"kg/m³", "lb/ft³"} <= units and len(wanted) > 10
    for one, other in zip(sorted(found, key=repr), sorted(wanted, key=repr), strict=True):
        assert list(one) == [pytest.approx(cell, rel=1e-12) if isinstance(cell, float) else cell for cell in other]


def test_blow_records() -> None:
    """Masses in kg and g, lengths in mm, a pressure in kPa and a temperature in °C, each with its unit behind it."""
    whole, reading, _ = read("blow_record")
    grams = {"kg": 1000.0, "g": 1.0}
    runs: list[Row] = []
    heights: list[Row] = []
    for path in whole:
        lines = path.read_text("utf-8").splitlines()
        head = _headed(lines, ": ")
        sample, piece = head["specimen"].split(" no ")

        def measured(key: str, units: dict[str, float], head: dict[str, str] = head) -> float | None:
            if key not in head:
                return None
            figure, unit = head[key].split(" ")
            return round(float(figure) * units[unit], 9)

        method = {"falling hammer": "t245", "kneading foot": "t247"}[head["by"]]
        runs.append(
            (
                *(sample, piece, method, int(head["steps"]), measured("hammer", grams), measured("drop", {"mm": 1.0})),
                *(measured("foot", {"kPa": 1.0}), measured("filled", grams), measured("mould", {"mm": 1.0})),
                measured("mixture", {"C": 1.0}),
            )
        )
        start = lines.index("after > mm")
        steps = (line.split(" > ") for line in lines[start + 1 : -1])
        heights += [(sample, piece, method, int(step), float(height)) for step, height in steps]
    columns = ["sample_id", "specimen_no", "method", "steps", "hammer_mass_g", "drop_mm", "foot_pressure_kpa"]
    found = reading.frames["impact_run"].select(*columns, "mass_g", "mould_diameter_mm", "mix_temperature_c").rows()
    assert sorted(found, key=repr) == sorted(runs, key=repr) and len(runs) == len(whole)
    compare(reading, "impact_height", ["sample_id", "specimen_no", "method", "step", "height_mm"], iter(heights))


def test_oven_pans() -> None:
    whole, reading, _ = read("oven_pans")
    pans: list[Row] = []
    dried: list[Row] = []
    for path in whole:
        cells = [line.split(";") for line in path.read_text("utf-8").splitlines()]
        instrument, pan = cells[0][1], ("", "")
        for row in cells[1:]:
            if row[0] == "pan":
                pan = (row[1], row[2])
            elif row[0] in ("empty", "with mixture"):
                role = "oven_container" if row[0] == "empty" else "oven_container_moist"
                pans.append((*pan, role, number(row[1]), instrument))
            elif row[0].isdigit():
                dried.append((*pan, int(row[0]), *(number(cell) for cell in row[1:])))
    found = reading.frames["weighing"].select("sample_id", "specimen_no", "role", "mass_g", "instrument_id").rows()
    assert sorted(found) == sorted(pans) and len(pans) == 2 * len(whole)
    columns = ["sample_id", "specimen_no", "reading", "dried_min", "oven_temperature_c", "mass_g"]
    assert sorted(reading.frames["drying_weighing"].select(columns).rows()) == sorted(dried) and len(dried) >= 9


def test_aggregate_books() -> None:
    """Masses of particles in water and of the sieving, book by book, sheet by sheet."""
    whole, reading, _ = read("aggregate_book")
    words = {"unwashed": "before_wash", "washed": "after_wash", "stays on": "retained"}
    coarse = {"Oven dry g": "dry", "Surface dry g": "ssd", "Hung in water g": "submerged"}
    fine = {"Flask of water g": "container_water", "Flask with sand g": "container_sample_water"}

    def rows() -> Iterator[Row]:
        for path in whole:
            book = openpyxl.load_workbook(path, read_only=True)
            sample = book["Aggregate"]["B1"].value
            for sheet, heads, method in (("Coarse in water", coarse, "t85"), ("Fine in flask", fine, "t84")):
                for row in _sheet(book, sheet):
                    for head, role in heads.items():
                        yield sample, row["Portion"], method, role, None, _float(row[head])
            for row in _sheet(book, "Sieves"):
                yield (
                    sample,
                    row["Portion"],
                    "sieving",
                    words[row["What"]],
                    _float(row["Opening mm"]),
                    _float(row["Mass g"]),
                )

    method = pl.col("method").replace({"t27": "sieving", "t11": "sieving", "t30": "sieving"})
    found = reading.frames["weighing"].with_columns(method)
    looked_at = (
        (pl.col("method") == "sieving")
        | ((pl.col("method") == "t85") & pl.col("role").is_in(list(coarse.values())))
        | ((pl.col("method") == "t84") & pl.col("role").is_in(list(fine.values())))
    )
    columns = ["sample_id", "specimen_no", "method", "role", "sieve_mm", "mass_g"]
    wanted = sorted(rows(), key=repr)
    assert len(wanted) > 20 and sorted(found.filter(looked_at).select(columns).rows(), key=repr) == wanted


def _sheet(book: openpyxl.Workbook, name: str) -> list[dict[str, Any]]:
    """Return the rows of a sheet by the names of its first; none where the book lacks it."""
    if name not in book.sheetnames:
        return []
    head, *body = book[name].iter_rows(values_only=True)
    return [dict(zip(head, row, strict=False)) for row in body if any(cell is not None for cell in row)]


def _float(cell: Any) -> float | None:
    return None if cell is None else float(cell)


def test_sampling_cards() -> None:
    whole, reading, _ = read("sampling_card")
    wanted = []
    for path in whole:
        card = tomllib.loads(path.read_text("utf-8"))
        for place in card["place"]:
            figures = (place.get(name) for name in ("random_1", "random_2", "tonnage_t", "station_m", "offset_m"))
            wanted.append((card["draw"], card["seed"], place["no"], place["kind"], place["sublot"], *figures))
    columns = ["draw_id", "seed", "place_no", "place_kind", "sublot", "random_1", "random_2", "tonnage_t", "station_m"]
    assert sorted(reading.frames["sampling_place"].select(*columns, "offset_m").rows(), key=repr) == sorted(
        wanted, key=repr
    )
    assert len(wanted) == 10
