"""Report, workbook, CSV and JSON show the warehouse's figures; no text in them becomes a formula."""

import csv
import io
import json
import re
from decimal import ROUND_HALF_EVEN, Decimal
from pathlib import Path

import openpyxl
import polars as pl
import pytest
from openpyxl.utils.escape import unescape

from pipeline import settings
from pipeline.reports import Asked, ReportError, hand_out
from pipeline.workspace import Workspace
from plugins.api import Scope
from plugins.renderers.sections.handed_out import csv as csv_of
from plugins.renderers.sections.handed_out import summary_json, xlsx
from plugins.renderers.sections.sheets import sheets
from tests.pages.test_hostile import HOSTILE, _poisoned
from tests.reports.conftest import SAMPLE, Amended
from warehouse.read import connect

Stored = dict[tuple[str, str, float | None], Decimal]
#: Texts a spreadsheet takes for a formula where they are not guarded (OWASP, CSV injection).
FORMULAS = ("=1+1", "+1", "-1+cmd|' /C calc'!A0", "@SUM(A1)", "\t=1+1", "\r=1+1", "＝1+1")


@pytest.fixture(scope="module")
def given(demo: Workspace, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a folder with everything that can be handed out of the demo."""
    folder = tmp_path_factory.mktemp("given")
    for form in ("xlsx", "csv", "json"):
        hand_out(demo, settings.Settings(), Asked(), form, folder, None)
    return folder


@pytest.fixture(scope="module")
def stored(demo: Workspace) -> Stored:
    """Give every sample result of the warehouse, rounded by the decimal module to the decimals of the catalogue."""
    from pipeline.formulas import registry

    decimals = {
        (name, point): places
        for name, point, places in registry.load().decimals().select("property", "point", "decimals").iter_rows()
    }
    with connect(demo.root) as connection:
        rows = connection.execute(
            "select sample_id, property, point, value from property_values join samples using (sample_id) "
            "where level = 'sample' and value is not null"
        ).fetchall()

    def shown(name: str, point: float | None, value: float) -> Decimal:
        places = decimals.get((name, point), decimals.get((name, None), 3))
        step = Decimal(1).scaleb(-places)
        return Decimal(repr(value)).quantize(step, ROUND_HALF_EVEN)

    return {(sample, name, point): shown(name, point, value) for sample, name, point, value in rows}


def _number(text: str) -> float | None:
    return float(text) if text else None


def test_csv_shows_the_warehouse_s_figures(given: Path, stored: Stored) -> None:
    text = (given / "csv" / "results.csv").read_text(encoding="utf-8-sig")
    rows = {
        (row["sample_id"], row["property"], _number(row["point"])): _number(row["figure"])
        for row in csv.DictReader(io.StringIO(text))
        if not row["withheld"]
    }
    assert rows == {key: float(value) for key, value in stored.items()}
    assert len(rows) > 1000


def test_the_workbook_shows_the_same_as_the_csv(given: Path) -> None:
    book = openpyxl.load_workbook(given / "tables.xlsx")
    assert set(book.sheetnames) == {path.stem for path in (given / "csv").glob("*.csv")}
    for name in book.sheetnames:
        heads, *rows = [[cell.value for cell in row] for row in book[name].iter_rows()]
        text = (given / "csv" / f"{name}.csv").read_text(encoding="utf-8-sig")
        own_heads, *own = list(csv.reader(io.StringIO(text)))
        assert heads == own_heads
        assert len(rows) == len(own)
        numbers = [
            place for place, head in enumerate(heads) if head in {"figure", "mean", "n", "uncertainty", "pay_pct"}
        ]
        for row, line in zip(rows, own, strict=True):
            assert [row[place] for place in numbers] == pytest.approx([_number(line[place]) for place in numbers])


def test_json_has_its_stated_shape_and_the_same_figures(given: Path, stored: Stored) -> None:
    told = json.loads((given / "summary.json").read_text(encoding="utf-8"))
    assert (told["format"], told["version"]) == ("mixledger.summary", 1)
    assert set(told) == {"format", "version", "about", "projects"}
    figures = {
        (row["sample_id"], row["property"], row["point"]): row["figure"]
        for project in told["projects"]
        for row in project["results"]
        if row["withheld"] is None
    }
    assert figures == {key: float(value) for key, value in stored.items()}
    one = next(row for row in told["projects"][0]["summary"] if row["n"] > 1)
    assert one["least"] <= one["mean"] <= one["largest"]


def test_the_report_shows_the_warehouse_s_figures(amended: Amended) -> None:
    page = (amended.at.reports / f"{SAMPLE}-2.html").read_text(encoding="utf-8")
    figure = re.compile(r'<div><b>([^<]*)</b>.*?<strong class="firm"><bdi>([^<]*)</bdi>', re.DOTALL)
    rows_html = page[page.index('<section id="results">') : page.index('<section id="charts">')].split("<tr>")
    shown = dict(found.groups() for found in map(figure.search, rows_html) if found)
    with connect(amended.at.root) as connection:
        rows = connection.execute(
            "select p.name, v.value, p.decimals from property_values v join property p using (property) "
            "where v.sample_id = ? and v.level = 'sample' and v.point is null and v.value is not null", [SAMPLE]
        ).fetchall()  # fmt: skip
    assert len(rows) > 10
    for name, value, places in rows:
        expected = Decimal(repr(value)).quantize(Decimal(1).scaleb(-places), ROUND_HALF_EVEN)
        title = name[:1].upper() + name[1:]
        assert shown[title].replace("−", "-") == str(abs(expected) if expected == 0 else expected), title


@pytest.mark.parametrize("text", FORMULAS)
def test_a_formula_in_a_label_stays_text(text: str) -> None:
    frame = pl.DataFrame({"label": [text, "plain"], "figure": [-1.5, 2.0]})
    _, first, second = list(csv.reader(io.StringIO(csv_of(frame).decode("utf-8-sig"), newline="")))
    assert first[0] == "'" + text
    assert (first[1], second) == ("-1.5", ["plain", "2.0"])
    sheet = openpyxl.load_workbook(io.BytesIO(xlsx({"t": frame})))["t"]
    assert (sheet["A2"].data_type, sheet["B2"].data_type, sheet["B2"].value) == ("s", "n", -1.5)
    assert unescape(sheet["A2"].value).strip() == text.strip()


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_labels_are_handed_out_as_text(name: str) -> None:
    made = sheets(_poisoned(HOSTILE[name]), Scope())
    book = openpyxl.load_workbook(io.BytesIO(xlsx(made)))
    kinds = {cell.data_type for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None}
    assert "f" not in kinds
    assert json.loads(summary_json(made))["version"] == 1
    for frame in made.values():
        for row in csv.reader(io.StringIO(csv_of(frame).decode("utf-8-sig"), newline="")):
            assert not any(cell[:1] in "=@\t\r" and cell for cell in row)


def test_the_same_tables_give_the_same_bytes(demo: Workspace, given: Path) -> None:
    for form in ("xlsx", "csv", "json"):
        written, _ = hand_out(demo, settings.Settings(), Asked(), form, given, None)
        assert written == []


def test_a_format_nobody_makes_is_told(demo: Workspace, tmp_path: Path) -> None:
    with pytest.raises(ReportError, match="no renderer makes 'docx'"):
        hand_out(demo, settings.Settings(), Asked(), "docx", tmp_path, None)
