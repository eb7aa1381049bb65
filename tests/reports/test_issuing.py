"""An issued report is a fact: numbered, kept, replaced by the next one with reason, and never written over."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline import settings
from pipeline.cli.group import group
from pipeline.local import Local
from pipeline.rebuild import rebuild
from pipeline.reports import Asked, ReportError, hand_out, issue, issues, write_issued
from pipeline.workspace import Workspace
from tests.reports.conftest import OTHER, SAMPLE, Amended, issued_now
from warehouse.read import connect

#: A layout that fits none of the exports there are.
LAYOUT = """
name = "stranger"
version = "1"
title = "A log nobody sends"
kind = "delimited"
[recognise]
starts = "nobody sends this"
[tables.rows]
heading = "label;"
delimiter = ";"
[[record]]
record = "weighing"
table = "rows"
[record.fields]
issued_at = { constant = "2026-01-01" }
sample_id = { column = "label" }
specimen_no = { column = "no" }
method = { constant = "t166" }
role = { constant = "dry" }
mass_g = { column = "mass", unit = "g" }
"""


def test_the_first_issue_is_number_one(amended: Amended) -> None:
    report = amended.first[SAMPLE]
    assert (report.report_no, report.issued, report.replaces, report.changes) == (f"{SAMPLE}-1", True, None, ())


def test_an_amended_report_names_the_former_and_why(amended: Amended) -> None:
    report = amended.second[SAMPLE]
    assert (report.report_no, report.replaces) == (f"{SAMPLE}-2", f"{SAMPLE}-1")
    assert report.reason is not None
    assert report.reason.startswith("gravity of the stockpile corrected. Changed: ")
    assert "gsb 2.702 -> 2.692" in report.reason
    page = (amended.at.reports / f"{SAMPLE}-2.html").read_text(encoding="utf-8")
    assert f"This report replaces {SAMPLE}-1" in page
    assert "gravity of the stockpile corrected" in page


def test_what_changed_is_told_from_and_to_as_both_reports_show_it(amended: Amended) -> None:
    changed = {row["item"]: row for row in amended.second[SAMPLE].changes if row["field"] == "figure"}
    vma = changed["Voids in the mineral aggregate"]
    with connect(amended.at.root) as connection:
        told = connection.execute(
            "select report_no, text from report_entry where item = 'Voids in the mineral aggregate' "
            "and part = 'result' and field = 'figure' and report_no like ? order by report_no", [f"{SAMPLE}-%"]
        ).fetchall()  # fmt: skip
    assert told == [(f"{SAMPLE}-1", vma["before"]), (f"{SAMPLE}-2", vma["after"])]
    assert vma["before"] != vma["after"]
    # Density has nothing to do with the aggregate's gravity.
    assert "Bulk specific gravity" not in changed


def test_nothing_changed_issues_nothing_and_writes_nothing(amended: Amended, copy: Workspace) -> None:
    assert not amended.second[OTHER].issued
    assert amended.second[OTHER].report_no == f"{OTHER}-1"
    before = {path: path.stat().st_mtime_ns for path in copy.root.rglob("*") if path.is_file()}
    again = issued_now(copy, SAMPLE, OTHER, reason="no reason at all")
    after = {path: path.stat().st_mtime_ns for path in copy.root.rglob("*") if path.is_file()}
    assert not any(report.issued for report in again.values())
    assert {path for path in after if before.get(path) != after[path]} <= {
        copy.store / "lock",
        copy.store / "lock.holder",
    }


def test_a_remark_is_issued_and_stays(copy: Workspace) -> None:
    report = issued_now(copy, OTHER, remark="sieve 4.75 mm <b>mended</b>")[OTHER]
    assert report.issued and report.path is not None
    assert "sieve 4.75 mm &lt;b&gt;mended&lt;/b&gt;" in report.path.read_text(encoding="utf-8")
    assert not issued_now(copy, OTHER)[OTHER].issued


def test_exports_that_a_new_importer_is_shown_again_do_not_count_as_cards(copy: Workspace) -> None:
    layout = copy.importers / "stranger" / "layout.toml"
    layout.parent.mkdir(parents=True)
    layout.write_text(LAYOUT, encoding="utf-8")
    # What was refused is offered to the new importer in the same pass.
    assert issued_now(copy, SAMPLE, remark="Sampled in rain.")[SAMPLE].report_no


def test_issues_outlive_a_rebuild_byte_for_byte(amended: Amended, copy: Workspace) -> None:
    rebuild(copy, settings.load(copy.root), Local())
    columns = ["report_no", "issued_at", "replaces", "reason", "content_hash"]
    asked = Asked(samples=(SAMPLE, OTHER))
    assert issues(copy, asked).select(columns).equals(issues(amended.at, asked).select(columns))
    assert not any(report.issued for report in issued_now(copy, SAMPLE, OTHER).values())
    for path in copy.reports.glob("*.html"):
        path.unlink()
    for number in (f"{SAMPLE}-1", f"{SAMPLE}-2"):
        path = write_issued(copy, number, copy.reports)
        assert path is not None
        assert path.read_bytes() == (amended.at.reports / f"{number}.html").read_bytes()


def test_looking_back_shows_the_figure_of_that_day_and_issues_nothing(amended: Amended, tmp_path: Path) -> None:
    vma = next(row for row in amended.second[SAMPLE].changes if row["item"] == "Voids in the mineral aggregate")
    asked = Asked(samples=(SAMPLE,))
    moments = {
        str(amended.run_of_first): (f"{SAMPLE}-1", vma["before"]),
        "1": ("No report had been issued then", vma["before"]),
    }
    for moment, (number, figure) in moments.items():
        written, _ = hand_out(amended.at, settings.Settings(), asked, "html", tmp_path / moment, moment)
        page = written[0].read_text(encoding="utf-8")
        row = page[page.index("<b>Voids in the mineral aggregate</b>") :]
        assert f"<bdi>{figure}</bdi>" in row[: row.index("</tr>")]
        assert number in page and "not an issued report" in page
    assert issues(amended.at, asked).height == 2


def test_a_page_that_is_not_ours_is_not_opened(copy: Workspace) -> None:
    from pipeline.report_card import page_of
    from plugins.renderers.verbs.shell import is_page

    card = next((copy.inbox / "reports").glob(f"{OTHER}-1.json")).read_bytes()
    page = page_of(card)
    assert page is not None and is_page(page)
    assert not is_page(page.replace(b"default-src 'none'", b"default-src *"))
    assert not is_page(b"<script>alert(1)</script>" + page)


def _called(at: Workspace, *words: str) -> tuple[int, str]:
    done = CliRunner().invoke(group, ["-w", str(at.root), "report", *words, "--quiet"])
    return done.exit_code, done.output


def test_a_dry_run_says_what_is_due(copy: Workspace) -> None:
    code, said = _called(copy, "--sample", "HB-0001", "--sample", SAMPLE, "--dry-run", "--json")
    states = {row["report"]: row["state"] for row in json.loads(said)}
    assert (code, states) == (0, {"HB-0001-1": "due", f"{SAMPLE}-2": "stands"})
    assert not (copy.reports / "HB-0001-1.html").exists()


def test_an_unknown_name_is_told(copy: Workspace) -> None:
    with pytest.raises(ReportError, match="no sample 'HB-9999'"):
        issue(copy, settings.Settings(), Asked(samples=("HB-9999",)))
    with pytest.raises(ReportError, match="no report 'HB-9999-1' was issued"):
        write_issued(copy, "HB-9999-1", copy.reports)


def test_without_a_browser_pdf_says_what_to_install_and_issues_nothing(copy: Workspace) -> None:
    from pipeline.printing import browser

    asked = settings.Settings(pages=settings.Pages(browser="no-such-browser"))
    with pytest.raises(ReportError, match="install Chromium, Chrome or Edge"):
        browser(asked)
