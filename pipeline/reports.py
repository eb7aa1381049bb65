"""Issues sample reports: first once, again only when something a report shows has changed; every issue is kept."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline import intake
from pipeline.progress import Progress, Quiet
from pipeline.settings import Settings
from pipeline.workspace import Workspace

if TYPE_CHECKING:
    import polars as pl
    from duckdb import DuckDBPyConnection

#: Folder of the inbox in which the cards of issued reports are put.
CARDS = "reports"


class ReportError(ValueError):
    """A report that cannot be made; the message says why and what to do."""


@dataclass(frozen=True)
class Asked:
    """What is to be reported.

    Attributes
    ----------
    projects, samples
        Names; both empty is everything.
    reason
        Why it is issued again, in the operator's words.
    remark
        Printed on the report.
    """

    projects: tuple[str, ...] = ()
    samples: tuple[str, ...] = ()
    reason: str | None = None
    remark: str | None = None


@dataclass(frozen=True)
class Report:
    """One report: issued now, or standing because nothing it shows has changed.

    Attributes
    ----------
    issued
        Whether it is issued by this call.
    changes
        What changed since the one it replaces: item, field, before, after, why.
    """

    report_no: str
    sample_id: str
    issued: bool
    replaces: str | None = None
    reason: str | None = None
    changes: tuple[dict[str, Any], ...] = ()
    path: Path | None = field(default=None)


def chosen(connection: "DuckDBPyConnection", asked: Asked) -> list[str]:
    """Return the samples asked for, in the order of their labels.

    Raises
    ------
    ReportError
        When the register does not know one of the projects or samples.
    """
    rows = connection.execute("select sample_id, project_id from samples order by sample_id").fetchall()
    for what, names, known in (
        ("sample", asked.samples, {row[0] for row in rows}),
        ("project", asked.projects, {row[1] for row in rows}),
    ):
        if strangers := sorted(set(names) - known):
            known_by = 'mixledger sql "select * from samples"'
            raise ReportError(f"the register has no {what} '{strangers[0]}'; `{known_by}` shows what it has")
    if not asked.samples and not asked.projects:
        return [row[0] for row in rows]
    return [row[0] for row in rows if row[0] in asked.samples or row[1] in asked.projects]


def issue(
    workspace: Workspace,
    settings: Settings,
    asked: Asked,
    *,
    dry_run: bool = False,
    progress: Progress | None = None,
) -> list[Report]:
    """Issue the reports of samples that have none, or whose last one no longer shows what holds; return all of them.

    The figures are those of the published warehouse. Each issue becomes a card in the inbox, which is kept and taken in
    like any export, so that issues outlive a rebuild; then its page is written.

    Raises
    ------
    ReportError
        When a sample or project is not known, or a card was not taken in.
    StoreBusyError
        When another process is writing to this workspace.
    """
    from pipeline.report_plan import plan
    from warehouse.lock import writer

    shown = progress or Quiet()
    with writer(workspace.store):
        with shown.stage("comparing with the last issues", 1):
            planned = plan(workspace, settings, asked)
        if not dry_run and planned.due.height:
            with shown.stage("issuing reports", 1):
                _enter(workspace, settings, planned.cards())
        reports = planned.reports
    if dry_run:
        return reports
    with shown.stage("writing pages", len(reports)) as step:
        return [_placed(workspace, report, step) for report in reports]


def _enter(workspace: Workspace, settings: Settings, cards: Mapping[str, bytes]) -> None:
    """Put cards into the inbox and take them in, and nothing else that lies there."""
    from pipeline.local import Local
    from pipeline.order import pass_in_hand

    folder = workspace.inbox / CARDS
    folder.mkdir(exist_ok=True)
    for name, content in cards.items():
        aside = folder / f".{name}"
        aside.write_bytes(content)
        aside.replace(folder / name)
    wanted = {f"{CARDS}/{name}" for name in cards}
    only = [each for each in intake.sightings(workspace.inbox) if each.name in wanted]
    pass_in_hand(workspace, settings, Local(), only=only)
    taken = _taken_in(workspace, cards)
    if taken != len(cards):
        raise ReportError(
            f"{len(cards)} reports were issued, but {taken} of their cards were taken in; "
            "`mixledger status` says what was refused"
        )


def _taken_in(workspace: Workspace, cards: Mapping[str, bytes]) -> int:
    """Return how many cards were read. The pass counts others, too: refused exports that a new importer may read."""
    from warehouse.read import connect

    hashes = [sha256(content).hexdigest() for content in cards.values()]
    read = "select count(*) from exports where state = 'read' and export_hash in (select unnest(?))"
    with connect(workspace.root) as connection:
        (count,) = connection.execute(read, [hashes]).fetchall()[0]
    return int(count)


def _placed(workspace: Workspace, report: Report, step: Any) -> Report:
    path = write_issued(workspace, report.report_no, workspace.reports)
    step(1)
    return replace(report, path=path)


def write_issued(workspace: Workspace, report_no: str, folder: Path) -> Path | None:
    """Write the page of an issued report, byte for byte as it was issued; None where its card holds no page.

    Raises
    ------
    ReportError
        When no report of that number was issued, or its card does not hold a page of ours.
    """
    from pipeline.render import write
    from pipeline.report_card import page_of
    from plugins.api import Artefact
    from plugins.renderers.verbs.shell import is_page
    from plugins.renderers.verbs.slugs import slug
    from warehouse.read import connect

    target = folder / f"{slug(report_no)}.html"
    if folder == workspace.reports and target.is_file():
        return target
    with connect(workspace.root) as connection:
        query = "select export_hash from report_issue where valid_to_run is null and report_no = ?"
        found = connection.execute(query, [report_no]).fetchall()
    if not found:
        raise ReportError(f"no report '{report_no}' was issued; `mixledger report --list` shows those that were")
    try:
        page = page_of(workspace.kept_file(found[0][0]).read_bytes())
    except (OSError, ValueError) as fault:
        raise ReportError(f"the card of report '{report_no}' cannot be read: {fault}") from fault
    if page is None:
        return None
    if not is_page(page):
        raise ReportError(f"the card of report '{report_no}' holds no page that mixledger made; it is not opened")
    folder.mkdir(parents=True, exist_ok=True)
    write(folder, Artefact(target.name, page, "text/html"))
    return target


def issues(workspace: Workspace, asked: Asked) -> "pl.DataFrame":
    """Return the issued reports of the samples asked for, as they follow each other."""
    from warehouse.read import connect
    from warehouse.sql import fetch

    with connect(workspace.root) as connection:
        names = chosen(connection, asked)
        return fetch(
            connection,
            "select report_no, sample_id, issue_no, issued_at, figures_run, replaces, reason, remark, content_hash "
            "from report_issue where valid_to_run is null and sample_id in (select unnest(?)) "
            "order by sample_id, issue_no",
            [names],
        )


def hand_out(
    workspace: Workspace,
    settings: Settings,
    asked: Asked,
    form: str,
    folder: Path,
    moment: str | None,
    *,
    beside: str | None = None,
) -> tuple[list[Path], tuple[str, ...]]:
    """Write what the renderers of a format make of what holds, or of what was known at a moment; issues nothing.

    Parameters
    ----------
    beside
        Ending of a file that is to stand beside each; where it does not, the file counts as changed.

    Returns
    -------
    The files whose bytes changed, and a sentence for each renderer that was left out.

    Raises
    ------
    ReportError
        When no renderer makes that format, or a name is not known.
    QueryRefusedError
        When nothing was known at the moment.
    """
    from pipeline.render import requested, write
    from pipeline.report_plan import looked_back

    scope, frames = looked_back(workspace, settings, asked, moment)
    made = requested(settings, frames, scope, form)
    if not made.artefacts and not made.problems:
        raise ReportError(f"no renderer makes '{form}' of this; `mixledger report --help` lists the formats")
    folder.mkdir(parents=True, exist_ok=True)
    changed = [
        path
        for one, path in ((one, folder / one.path) for one in made.artefacts)
        if write(folder, one) or (beside and not path.with_suffix(beside).is_file())
    ]
    return changed, made.problems


def now() -> datetime:
    """Return the time a report is issued at, UTC, to the second."""
    return datetime.now(UTC).replace(tzinfo=None, microsecond=0)


def program() -> str:
    """Return the version that makes the reports."""
    return version("mixledger")
