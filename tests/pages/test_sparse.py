"""With nothing, little or much to show, every page still says something true: the situations of `sparse.py`."""

import csv
import io
import json
import re
from functools import cache

import openpyxl
import polars as pl
import pytest

from plugins.api import Scope
from plugins.renderers.comma_separated import CommaSeparated
from plugins.renderers.report import SampleReports
from plugins.renderers.sections.project_pages import _ITEMS, project_pages
from plugins.renderers.sections.work_page import PER_PROJECT
from plugins.renderers.summary_json import SummaryJson
from plugins.renderers.workbook import Workbook
from tests.pages import invented
from tests.pages.conftest import figures, render
from tests.pages.hollow import PROGRAM_WORDS, hollow
from tests.pages.reading import read
from tests.pages.sparse import SITUATIONS, Tables, reports

#: Bytes a page may have: it is opened on a phone at a plant.
LARGEST = 1_500_000
#: Kinds of pages, by the first part of their path.
KINDS = ("summary", "due", "quality", "project", "mix", "sample", "report")


@cache
def tables(situation: str) -> Tables:
    """Give the tables of a situation, with the figures the pipeline computes from them and a report per sample."""
    made = reports(SITUATIONS[situation]())
    return {**made, **figures(made)}


@cache
def pages(situation: str) -> dict[str, str]:
    """Give every page of a situation; path -> text."""
    made = render(tables(situation))
    drawn = SampleReports().render(tables(situation), Scope())
    return made | {f"report/{each.path}": each.content.decode() for each in drawn}


@cache
def said(situation: str, kind: str) -> list[str]:
    """Return what each page of a kind says, in one line."""
    made = pages(situation)
    own = (page for path, page in made.items() if re.split(r"[/.]", path)[0] == kind)
    return [" ".join(read(page).text.split()) for page in own]


@pytest.mark.parametrize("situation", SITUATIONS)
def test_no_page_has_a_hole(situation: str) -> None:
    for path, page in pages(situation).items():
        assert not read(page).faults, path
        assert not hollow(page), (path, hollow(page)[:5])


@pytest.mark.parametrize("situation", SITUATIONS)
def test_no_page_is_large(situation: str) -> None:
    large = {path: len(page.encode()) for path, page in pages(situation).items() if len(page.encode()) > LARGEST}
    assert not large


@pytest.mark.parametrize("situation", SITUATIONS)
def test_every_label_of_the_register_has_its_page(situation: str) -> None:
    made = tables(situation)
    for name, column in (("projects", "project"), ("samples", "sample")):
        count = made[name].height if name in made else 0
        assert sum(path.startswith(f"{column}/") for path in pages(situation)) == count


#: Situation -> kind of page -> what one of its pages has to say, and what none may, as not true (behind a `!`).
SAYS: dict[str, dict[str, tuple[str, ...]]] = {
    "nothing": {
        "summary": ("0 projects, 0 samples", "The register holds no project yet", "No run has been stored yet"),
        "due": ("The register holds no sample yet", "!Nothing is missing"),
        "quality": ("No export has arrived yet", "!0 refusals", "No row has been accepted yet", "!Every accepted row"),
    },
    "no_data": {
        "summary": ("The register holds no project yet", "Nothing has been judged against a limit yet"),
        "due": ("The register holds no sample yet", "!Nothing is missing"),
        "quality": ("No export has arrived yet", "No row has been accepted yet"),
    },
    "one_sample": {
        "summary": ("1 project, 1 sample taken 2026-03-02.", "8 of 8 judged results lie within"),
        "project": ("1 sample; 8 of 8 judged results within limits",),
        "mix": ("results: 1, outside: 0, flagged: 0", "!1 results", "!1 samples"),
        "quality": ("!1 samples", "1 lapsed calibration"),
        "sample": ("8 of 8 judged results within the limits",),
        "report": ("8 of 8 judged results within the limits", "No instrument is on record"),
    },
    "all_failing": {
        "summary": ("0 of 101 judged results lie within their limits", "100 %"),
        "project": ("0 of 51 judged results within limits", "7 of 7 outside"),
        "sample": ("8 of 8 judged results outside the limits",),
        "report": ("8 of 8 judged results outside the limits",),
    },
    "many_samples": {
        "summary": ("1 project, 400 samples",),
        "project": ("400 samples;",),
        "mix": ("results: 400,",),
    },
    "no_targets": {
        "summary": ("no target", "not judged", "limit not knownn 0", "!no limitn 0"),
        "project": ("nothing judged yet", "not judged", "limit not known"),
        "mix": ("the design states no target", "The design states no numbers of gyrations"),
        "sample": ("No result could be judged", "the mix design states no target", "limit not known"),
        "report": ("No result could be judged", "the mix design states no target", "limit not known"),
    },
    "no_limits": {
        "summary": ("no limitn 7", "nothing judged", "Nothing has been judged against a limit yet"),
        "due": ("No specification set is on record for 2 projects", "nothing is required there"),
        "project": (
            "none: results are not judged", "The project has no specification set", "!the specification set states",
        ),
        "mix": ("no limit holds", "No limit on rut depth holds for this mix"),
        "sample": ("No result has been held against a limit: no limit is on record.", "no limit"),
        "report": (
            "No result has been held against a limit: no limit is on record.", "!There is no result", "no limit",
            "No specification set is on record", "!nothing the specification requires is missing",
        ),
    },
    "register_only": {
        "summary": ("2 projects, 8 samples", "nothing judged", "!Of no year"),
        "project": ("4 samples; nothing judged yet", "No result yet"),
        "mix": ("No sample of this mix has a result yet", "The register holds no design of this mix"),
        "sample": ("No result yet: no test of this sample has arrived", "No reading of this sample has arrived"),
        "report": ("There is no result", "No instrument is on record"),
    },
    "bare_register": {
        "summary": ("1 project, 2 samples.", "Samples without a registered project 1 in all", "!1 samples"),
        "project": ("1 sample; nothing judged yet", "none: results are not judged"),
        "sample": ("No result yet",),
        "report": ("No day of sampling and no test is on record", "No instrument is on record"),
    },
    "project_without_samples": {
        "summary": ("1 project, 0 samples. Nothing has been judged",),
        "due": ("The register holds no sample yet",),
        "project": ("0 samples; nothing judged yet", "The register holds no sample of this project"),
    },
    "refused_only": {
        "summary": ("The register holds no project yet", "2 in all", "the journal has no End line"),
        "due": ("The register holds no sample yet",),
        "quality": ("2 refusals", "No row has been accepted yet", "Export the journal again"),
    },
    "all_withheld": {
        "summary": ("no figure", "!no limitn 0", "3.0 to 5.0n 0"),
        "project": ("nothing judged yet", "Withheld: no Gmm of this sample", "3.0 to 5.0"),
        "mix": ("No sample of this mix has volumetrics yet",),
        "sample": ("No result could be judged", "withheld: no Gmm of this sample"),
        "report": ("No result could be judged", "Withheld: no Gmm of this sample"),
    },
}  # fmt: skip


@pytest.mark.parametrize(("situation", "kind"), [(name, kind) for name, kinds in SAYS.items() for kind in kinds])
def test_a_page_says_what_is_true(situation: str, kind: str) -> None:
    texts = said(situation, kind)
    for sentence in SAYS[situation][kind]:
        if sentence.startswith("!"):
            wrong = [text for text in texts if sentence[1:] in text]
            assert not wrong, f"{situation}, {kind}: '{sentence[1:]}' is not true in: {wrong[0][:400]}"
        else:
            assert any(sentence in text for text in texts), f"{situation}, {kind}: '{sentence}' is said nowhere"


def test_every_situation_is_looked_at_on_every_kind_of_page_it_has() -> None:
    for situation in SITUATIONS:
        kinds = {re.split(r"[/.]", path)[0] for path in pages(situation)}
        assert set(SAYS[situation]) <= kinds <= set(KINDS)


def test_where_all_fail_every_count_is_that_of_the_judgements() -> None:
    judged = tables("all_failing")["judgements"].join(tables("all_failing")["samples"], on="sample_id")
    counts = dict(judged.group_by("project_id").len().iter_rows())
    titles = dict(tables("all_failing")["projects"].select("project_id", "project_name").iter_rows())
    for project, count in counts.items():
        page = next(page for page in pages("all_failing").values() if f"<h1><bdi>{titles[project]}</bdi></h1>" in page)
        assert f"0 of {count} judged results within limits" in read(page).text
        assert f"{count} of {count}" in " ".join(read(pages("all_failing")["summary.html"]).text.split())
    assert sum(counts.values()) == 101


def test_what_a_page_leaves_out_is_said_with_both_counts() -> None:
    made = dict(SITUATIONS["many_samples"]())
    key = ["project_id", "mix_id", "lot", "sample_id"]
    wanted = {name: pl.lit(None, kind) for name, kind in made["work"].schema.items() if name not in key}
    items = made["samples"].select(key).with_columns(**wanted).with_columns(
        state=pl.lit("open"), kind=pl.lit("missing"), sentence=pl.lit("owed"), remedy=pl.lit("test it")
    )  # fmt: skip
    work = pl.concat([items, items]).select(made["work"].columns)
    drawn = render({**made, "work": work})
    assert work.height == 800
    (project,) = (page for path, page in drawn.items() if path.startswith("project/"))
    assert f"The first {_ITEMS.shown} of 800 are listed." in read(project).text
    assert "800 in all, the first" in read(drawn["due.html"]).text
    assert drawn["due.html"].count("<bdi>owed</bdi>") == PER_PROJECT


def _cells(situation: str) -> dict[str, list[list[str]]]:
    """Return every sheet of the workbook and every CSV file as rows of text."""
    (book,) = Workbook().render(tables(situation), Scope())
    opened = openpyxl.load_workbook(io.BytesIO(book.content))
    rows = {
        sheet.title: [["" if cell is None else str(cell) for cell in row] for row in sheet.iter_rows(values_only=True)]
        for sheet in opened
    }
    for each in CommaSeparated().render(tables(situation), Scope()):
        rows[each.path] = list(csv.reader(io.StringIO(each.content.decode("utf-8-sig"))))
    return rows


@pytest.mark.parametrize("situation", SITUATIONS)
def test_sheets_and_csv_hold_a_head_and_no_word_of_a_program(situation: str) -> None:
    for name, rows in _cells(situation).items():
        assert all(rows[0]), f"{name} has no head"
        assert not [cell for row in rows for cell in row if PROGRAM_WORDS.fullmatch(cell)], name


@pytest.mark.parametrize("situation", SITUATIONS)
def test_json_names_every_project_of_the_register(situation: str) -> None:
    (made,) = SummaryJson().render(tables(situation), Scope())
    whole = json.loads(made.content, parse_constant=lambda word: pytest.fail(f"{word} is no JSON"))
    registered = tables(situation).get("projects", pl.DataFrame({"project_id": []}))["project_id"].to_list()
    assert sorted(each["project_id"] for each in whole["projects"]) == sorted(registered)
    counted = sum(len(each["results"]) for each in whole["projects"])
    assert counted == (tables(situation)["sample_values"].height if "sample_values" in tables(situation) else 0)


def test_a_project_of_many_years_lists_its_latest_samples_and_says_so() -> None:
    made = {**invented.tables(projects=1, per_project=1500)}
    ((_, page),) = project_pages({**made, **figures(made)}, None)
    assert len(page) < LARGEST
    assert re.search(r"Samples: \d+, the latest 150 listed", page.decode())
    section = page.decode().split('<section id="samples">')[1].split("</section>")[0]
    assert "The latest 300 of 1\u202f500 are listed." in section
    days = re.findall(r'<span class="small date">([^<]+)</span>', section)
    assert len(days) == 300 and days == sorted(days, reverse=True)
    assert days[0] == str(made["samples"]["taken_on"].max())
