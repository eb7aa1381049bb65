"""Every text column of every table holds hostile text, a few at a time: nothing it says becomes markup or formula.

Columns come from `TABLES`: a new one is covered by itself. Those of one name are changed together, so that ties hold;
the others stay, so that no branch is hidden by a word that a page does not know.
"""

import csv
import importlib
import io
import json
import re
import unicodedata
from functools import cache

import openpyxl
import polars as pl
import pytest

from plugins.api import Scope
from plugins.renderers.comma_separated import CommaSeparated
from plugins.renderers.report import SampleReports
from plugins.renderers.sections.handed_out import csv as csv_of
from plugins.renderers.summary_json import SummaryJson
from plugins.renderers.verbs.slugs import slug
from plugins.renderers.verbs.tables import TABLES
from plugins.renderers.workbook import Workbook
from tests.pages import invented
from tests.pages.conftest import figures
from tests.pages.reading import Seen, read
from tests.pages.sparse import Tables

#: Unlike anything of ours, so that where it stands as markup it is found; it opens tags, attributes and strings.
MARK = "zq7"
HOSTILE = (
    f"=<{MARK} a{MARK}=1 onclick='x'>\"{MARK}={MARK} '{MARK}={MARK} </td></section></svg></title></style>{{slug}}&lt;"
)
#: What a spreadsheet takes for a formula at the start of a field (OWASP, CSV injection), and what loses itself there.
LEADS = (
    "=1+1",
    "+1",
    "-1+cmd|' /C calc'!A0",
    "@SUM(A1)",
    "\t=1+1",
    "\r=1+1",
    "＝1+1",
    "\u200b=1+1",
    "\ufeff=1+1",
    " =1+1",
)
#: Labels that differ in ways file systems or readers do not see, that are no names, or that some system keeps.
LABELS = (
    "HB-1", "hb-1", "Hb-1", "HB 1", "HB\u00a01", "HB\u200b-1", "HB\u202e-1", "\u202bHB-1", "H\u0412-1", "HB-1 ",
    " HB-1", "CON", "con", "NUL.txt", "COM1", "LPT9", "PRN", "AUX", "..", ".", "-", "--", "...", "/", "\\", "../x",
    "..\\x", "C:x", "", " ", "!?", "***", "=", "é", "e\u0301", "\ud83d", "x" * 300, "x" * 301, "ÄÖ", "ÖÄ", "\n", "\x00",
    "%2e%2e", "~", "$HOME",
)  # fmt: skip


def _whole(tables: Tables) -> Tables:
    """Return every table of the contract with every column filled where the invented ones leave it out."""
    made: Tables = {}
    for name, schema in TABLES.items():
        frame = tables.get(name, pl.DataFrame(schema=schema))
        if frame.is_empty():
            frame = tables["samples"].head(2).select("sample_id")
        absent = [
            pl.lit("4" if kind == pl.String else 4 if kind.is_numeric() else None).cast(kind).alias(column)
            for column, kind in schema.items()
            if column not in frame.columns
        ]
        made[name] = frame.with_columns(absent).select(list(schema))
    return made


@cache
def harmless() -> Tables:
    made = invented.tables(projects=2, per_project=6, passes=500)
    made = {**made, **figures(made)}
    asked = made["samples"].select("sample_id", pl.format("{}-1", "sample_id").alias("report_no"), issue_no=pl.lit(1))
    return _whole({**made, "reports": asked.head(2)})


NAMES = sorted({column for schema in TABLES.values() for column, kind in schema.items() if kind == pl.String})
#: Columns changed together; how pages are shown is no label, and comes from settings that are checked.
BATCHES = [[name for name in NAMES[start::14] if name not in TABLES["presentation"]] for start in range(14)]


@cache
def poisoned(batch: int) -> Tables:
    """Return the tables with hostile text before every text of the columns of a batch, or where they had none."""
    return {
        name: frame.with_columns(
            pl.concat_str(pl.lit(HOSTILE), pl.col(column).fill_null("")).alias(column)
            for column, kind in frame.schema.items()
            if kind == pl.String and column in BATCHES[batch]
        )
        for name, frame in harmless().items()
    }


def pages(tables: Tables) -> dict[str, str]:
    """Render every page and the reports, from the tables as they stand."""
    made = {}
    for name in ("summary", "due", "quality", "project", "mix", "sample", "report"):
        (renderer,) = importlib.import_module(f"plugins.renderers.{name}").mixledger_renderers()
        made |= {f"{name}:{each.path}": each.content.decode() for each in renderer.render(tables, Scope())}
    return made


@cache
def _own() -> tuple[frozenset[str], frozenset[str]]:
    seen = [read(page) for page in pages(harmless()).values()]
    return frozenset().union(*(each.tags for each in seen)), frozenset().union(*(each.attributes for each in seen))


#: Tags and attributes of branches that harmless data do not take.
_OF_BRANCHES = frozenset({"br"})
_PATH = re.compile(r"\w+:((project|mix|sample)/)?[A-Za-z0-9_-]{1,60}\.html")
_LINK = re.compile(r"data:,|((\.\./)?(summary|due|quality|(project|mix|sample)/[\w-]+)\.html)?(#[\w-]+)?")


def _faults(path: str, page: str, seen: Seen) -> list[str]:
    tags, attributes = _own()
    found = list(seen.faults)
    found += [f"tag {tag}" for tag in seen.tags - tags - _OF_BRANCHES]
    found += [f"attribute {name}" for name in seen.attributes - attributes - _OF_BRANCHES]
    found += [f"id '{name}'" for name in seen.ids if not re.fullmatch(r"[\w-]+", name)]
    found += [f"link '{link}'" for link in seen.links if not _LINK.fullmatch(link)]
    if not _PATH.fullmatch(path):
        found.append("its path")
    return found


@pytest.mark.parametrize("batch", range(len(BATCHES)), ids=lambda batch: BATCHES[batch][0])
def test_no_column_opens_anything_on_a_page(batch: int) -> None:
    for path, page in pages(poisoned(batch)).items():
        found = _faults(path, page, read(page))
        assert not found, (path, found[:3])


def test_every_text_column_is_in_a_batch() -> None:
    held = {name for batch in BATCHES for name in batch} | set(TABLES["presentation"])
    assert held >= set(NAMES) and len(NAMES) > 80


@pytest.mark.parametrize("batch", range(len(BATCHES)), ids=lambda batch: BATCHES[batch][0])
def test_no_column_becomes_a_formula_or_breaks_what_is_handed_out(batch: int) -> None:
    tables = poisoned(batch)
    (book,) = Workbook().render(tables, Scope())
    for sheet in openpyxl.load_workbook(io.BytesIO(book.content)):
        formulas = [cell.coordinate for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]
        assert not formulas, (sheet.title, formulas[:3])
    for each in CommaSeparated().render(tables, Scope()):
        rows = list(csv.reader(io.StringIO(each.content.decode("utf-8-sig"))))
        assert not [cell for row in rows for cell in row if cell.startswith("=")], each.path
        assert len({len(row) for row in rows}) == 1, each.path
    (made,) = SummaryJson().render(tables, Scope())
    assert json.loads(made.content)["format"] == "mixledger.summary"


@pytest.mark.parametrize("lead", LEADS)
def test_no_field_of_a_csv_starts_as_a_formula_after_what_a_reader_strips(lead: str) -> None:
    made = csv_of(pl.DataFrame({"label": [lead]})).decode("utf-8-sig")
    (_, (cell,)) = list(csv.reader(io.StringIO(made, newline="")))
    shown = "".join(each for each in cell if unicodedata.category(each) not in ("Cf", "Zs", "Cc"))
    assert shown[0] not in "=+-@＝＋－＠", repr(cell)
    assert cell.endswith(lead)


def test_every_label_has_a_slug_of_its_own_on_every_system() -> None:
    made = {label: slug(label) for label in LABELS}
    assert len({name.lower() for name in made.values()}) == len(LABELS)
    for name in made.values():
        assert re.fullmatch(r"[A-Za-z0-9_-]{1,49}", name)
        assert not re.fullmatch(r"(?i)(con|prn|aux|nul|com\d|lpt\d)", name)


def test_every_label_of_a_report_has_a_file_of_its_own() -> None:
    labels = [label.encode("utf-8", "replace").decode() for label in LABELS if label.isprintable() or "\u200b" in label]
    samples = harmless()["samples"].head(1).select(pl.exclude("sample_id")).join(
        pl.DataFrame({"sample_id": labels}), how="cross"
    )  # fmt: skip
    asked = pl.DataFrame({"sample_id": labels, "report_no": [f"{label}-1" for label in labels]})
    made = SampleReports().render({"samples": samples, "reports": asked}, Scope())
    paths = [each.path for each in made]
    assert len({path.lower() for path in paths}) == len(set(labels)) == len(paths)
    assert all(re.fullmatch(r"[A-Za-z0-9_-]{1,60}\.html", path) for path in paths)
