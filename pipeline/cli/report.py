"""Command `report`: issues sample reports, and hands out workbook, CSV and JSON."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import settings, workspace
from pipeline.cli import output
from pipeline.progress import Progress, collector

if TYPE_CHECKING:
    from pipeline.reports import Asked, Report
    from pipeline.settings import Settings
    from pipeline.workspace import Workspace

#: Formats that are a sample report; all others are tables, handed out and not issued.
_ISSUED = ("html", "pdf")


@click.command()
@click.option("--project", "projects", multiple=True, metavar="PROJECT", help="Samples of this project; repeatable.")
@click.option("--sample", "samples", multiple=True, metavar="SAMPLE", help="This sample; repeatable.")
@click.option(
    "--format",
    "form",
    default="html",
    show_default=True,
    help="html or pdf: sample reports. xlsx, csv or json: tables. A package may add formats.",
)
@click.option("--as-of", "moment", metavar="DAY|TIME|RUN", help="As it was known then; issues nothing.")
@click.option("--issue", "number", metavar="REPORT", help="This report again, byte for byte as it was issued.")
@click.option("--reason", help="Why a report is issued again, besides what changed.")
@click.option("--remark", help="Printed on the reports that are issued; stays until another is given.")
@click.option("--list", "listing", is_flag=True, help="Show the reports that were issued; writes nothing.")
@click.option("--dry-run", is_flag=True, help="Say what would be issued, and why; writes nothing.")
@click.option(
    "-o",
    "--output",
    "target",
    metavar="DIR",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder to write to, with --issue, --as-of, xlsx, csv or json; reports/ of the workspace if left out.",
)
@click.option("--quiet", is_flag=True, help="No progress.")
@click.option("--json", "as_json", is_flag=True, help="Say what was done as JSON.")
@click.pass_obj
def command(
    folder: Path,
    /,
    projects: tuple[str, ...],
    samples: tuple[str, ...],
    form: str,
    reason: str | None,
    remark: str | None,
    quiet: bool,
    as_json: bool,
    **given: object,
) -> None:
    """Issue the reports of samples, ready to sign: SAMPLE-1 first, and SAMPLE-2 only once something it shows changed.

    An issue is a fact: it is kept with everything it showed, names the report it replaces, what changed and why, and is
    never written over. Where nothing changed nothing is issued. `pages`, in contrast, always show what holds
    now, and are rendered by every run. xlsx, csv and json hold the tables of the pages and are not issues.

    \b
    Examples:
      mixledger -w lab report --sample HB-0012                    issue it, or say that it stands
      mixledger -w lab report --project SEDGE --format pdf        every sample of a project, printed
      mixledger -w lab report --sample HB-0012 --reason "moisture corrected" --dry-run
      mixledger -w lab report --issue HB-0012-1 -o again          the report as it was issued
      mixledger -w lab report --sample HB-0012 --as-of 2026-05-03 -o then
      mixledger -w lab report --format xlsx                       the tables of all pages as a workbook

    \b
    Exit codes: 0 done (also where nothing was due), 1 done, but a package's renderer was left out, 2 a name, a setting
    or the browser for PDF is wanting and nothing was issued, 3 another process is writing to the workspace.
    """
    from pipeline.reports import Asked

    found = workspace.find(folder)
    chosen = settings.load(found.root)
    asked = Asked(projects, samples, reason, remark)
    if given["listing"]:
        return _list(found, asked, as_json)
    moment, number, target = given["moment"], given["number"], given["target"]
    if moment and number:
        raise click.UsageError("--issue shows a report as it was issued, --as-of what was known then: give one of them")
    if number:
        return _again(found, chosen, str(number), form, Path(str(target)) if target else found.reports, as_json)
    if moment or form not in _ISSUED:
        return _hand_out(found, chosen, asked, form, str(moment) if moment else None, target, as_json)
    if target:
        raise click.UsageError("issued reports stand in the workspace's reports/; --issue REPORT -o DIR copies one")
    return _issue(found, chosen, asked, form, bool(given["dry_run"]), collector(quiet), as_json)


def _issue(
    found: "Workspace", chosen: "Settings", asked: "Asked", form: str, dry: bool, progress: Progress, as_json: bool
) -> None:
    from pipeline import printing
    from pipeline.reports import issue

    program = printing.browser(chosen) if form == "pdf" else ""
    reports = issue(found, chosen, asked, dry_run=dry, progress=progress)
    made = []
    if program and not dry:
        pages = [report.path for report in reports if report.path]
        owed = [path for path in pages if not path.with_suffix(".pdf").is_file()]
        with progress.stage("printing", len(owed)) as step:
            for path in owed:
                made.append(printing.print_pdf(program, path))
                step(1)
    if as_json:
        output.as_json([_told(report, dry) for report in reports])
        return
    for report in reports:
        _say(report, dry)
    count = sum(report.issued for report in reports)
    printed = f", {len(made)} printed" if program else ""
    click.echo(f"{count} {'would be issued' if dry else 'issued'}, {len(reports) - count} stand{printed}")


def _told(report: "Report", dry: bool) -> dict[str, object]:
    return {
        "report": report.report_no,
        "sample": report.sample_id,
        "state": ("due" if dry else "issued") if report.issued else "stands",
        "replaces": report.replaces,
        "reason": report.reason,
        "changes": list(report.changes),
        "file": str(report.path) if report.path else None,
    }


def _say(report: "Report", dry: bool) -> None:
    where = f": {report.path}" if report.path else ""
    if not report.issued:
        click.echo(f"{report.report_no} stands{where}")
        return
    former = f", replaces {report.replaces}" if report.replaces else ""
    click.echo(f"{report.report_no} {'is due' if dry else 'issued'}{former}{where}")
    if report.reason:
        click.echo(f"  {report.reason}")


def _again(found: "Workspace", chosen: "Settings", number: str, form: str, target: Path, as_json: bool) -> None:
    from pipeline import printing
    from pipeline.reports import ReportError, write_issued

    if form not in _ISSUED:
        raise click.UsageError("an issued report is html or pdf")
    program = printing.browser(chosen) if form == "pdf" else ""
    path = write_issued(found, number, target)
    if path is None:
        raise ReportError(
            f"the card of report '{number}' holds no page; what it showed stands in the table report_entry"
        )
    path = printing.print_pdf(program, path) if program else path
    output.as_json({"report": number, "file": str(path)}) if as_json else click.echo(path)


def _hand_out(
    found: "Workspace",
    chosen: "Settings",
    asked: "Asked",
    form: str,
    moment: str | None,
    target: object,
    as_json: bool,
) -> None:
    from pipeline import printing
    from pipeline.cli.exit_codes import LISTED
    from pipeline.reports import hand_out

    if moment and not target:
        raise click.UsageError("what was known then goes into a folder of its own: name one with -o")
    folder = Path(str(target)) if target else found.reports
    program = printing.browser(chosen) if form == "pdf" else ""
    written, problems = hand_out(
        found, chosen, asked, "html" if program else form, folder, moment, beside=".pdf" if program else None
    )
    if program:
        written = [printing.print_pdf(program, path) for path in written]
    for problem in problems:
        click.echo(problem, err=True)
    if as_json:
        output.as_json([str(path) for path in written])
    else:
        for path in written:
            click.echo(path)
        click.echo(f"{len(written)} files written, what had not changed was left: {folder}")
    if problems:
        raise click.exceptions.Exit(LISTED)


def _list(found: "Workspace", asked: "Asked", as_json: bool) -> None:
    from pipeline.reports import issues

    rows = issues(found, asked)
    if as_json:
        output.as_json(rows.to_dicts())
    elif rows.is_empty():
        click.echo("no report was issued")
    else:
        output.frame_table(rows.drop("content_hash", "figures_run"))
