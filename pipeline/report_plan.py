"""Works out which reports are due: what they would show, against what the last issues showed, and why it changed."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import polars as pl
from duckdb import DuckDBPyConnection

from pipeline import report_card, tables
from pipeline.render import requested
from pipeline.report_tables import report_tables
from pipeline.reports import Asked, Report, chosen, now, program
from pipeline.settings import Settings
from pipeline.workspace import Workspace
from plugins.api import Scope
from plugins.renderers.sections.report_entries import entries
from plugins.renderers.verbs.results import named, names
from plugins.renderers.verbs.slugs import slug
from plugins.renderers.verbs.tables import of_samples, take
from schemas.vocabulary import ReportPart
from warehouse.read import connect
from warehouse.sql import fetch

_ISSUES = """
    select report_no, sample_id, issue_no, issued_at, figures_run, figures_at, replaces, reason, remark, content_hash
    from report_issue where valid_to_run is null and sample_id in (select unnest(?)) order by sample_id, issue_no"""
_ENTRIES = """
    select i.sample_id, e.part, e.item, e.field, e.text
    from report_entry e join report_issue i on i.report_no = e.report_no and i.valid_to_run is null
    where e.valid_to_run is null and e.report_no in (select unnest(?)) order by i.sample_id, e.entry_no"""
_WHY = """
    select f.sample_id, f.property, f.point, f.reason as why
    from former_values f join (select unnest(?) as sample_id, unnest(?) as since) s using (sample_id)
    where f.held_to > s.since"""
#: What changed in the register or in the contract, where no figure did.
_ALSO = """
    select s.sample_id, c.record || ' ' || c.record_key || ': ' || coalesce(c.differences, c.change) as why
    from record_change c join run r using (run_id)
    join (select unnest(?) as sample_id, unnest(?) as since) s on r.finished_at > s.since
    left join samples p on p.sample_id = s.sample_id
    where (c.sample_id = s.sample_id or (c.sample_id is null and c.project_id = p.project_id)
           or (c.record like 'specification%' and starts_with(c.record_key, p.set_id)))
      and (c.differences is not null or c.change = 'withdrawn')"""
#: Entries named in a reason, and characters of a reason.
_NAMED, _LONGEST = 5, 900
_ENTRY_KEY = ["sample_id", "part", "item", "field", "turn"]
_CHANGE = ["part", "item", "field", "before", "after", "why"]


@dataclass(frozen=True)
class Planned:
    """Reports of the samples asked for, and of those that are due what is needed to issue them."""

    reports: list[Report]
    due: pl.DataFrame
    content: pl.DataFrame
    changes: pl.DataFrame
    pages: Mapping[str, bytes]

    def cards(self) -> dict[str, bytes]:
        """Return file name -> card of every report that is due."""
        content = self.content.partition_by("sample_id", as_dict=True, maintain_order=True)
        changed = self.changes.partition_by("report_no", as_dict=True, maintain_order=True)
        none = self.changes.clear()
        return {
            f"{slug(row['report_no'])}.json": report_card.card(
                _head(row),
                content[row["sample_id"],],
                changed.get((row["report_no"],), none).select(_CHANGE),
                self.pages.get(f"{slug(row['report_no'])}.html"),
            )
            for row in self.due.iter_rows(named=True)
        }


def _head(row: Mapping[str, Any]) -> dict[str, Any]:
    at = row["figures_at"]
    return {
        "written": row["issued_at"].isoformat(),
        "report": row["report_no"],
        "sample": row["sample_id"],
        "issue": row["issue_no"],
        "figures_run": row["figures_run"],
        "figures_at": at.isoformat() if at else None,
        "replaces": row["replaces"],
        "reason": row["reason"],
        "remark": row["remark"],
        "content": row["content_hash"],
        "version": program(),
    }


def gathered(
    connection: DuckDBPyConnection, workspace: Workspace, settings: Settings, samples: list[str]
) -> tuple[Scope, dict[str, pl.DataFrame]]:
    """Return the scope of the samples, and every table of the reports' contract in stored units."""
    query = "select distinct project_id from samples where sample_id in (select unnest(?)) and project_id is not null"
    projects = frozenset(row[0] for row in connection.execute(query, [samples]).fetchall())
    scope = Scope(projects, frozenset(samples))
    frames = dict(tables.gather(connection, workspace, settings.results, scope))
    return scope, frames | report_tables(connection, settings.results, scope)


def plan(workspace: Workspace, settings: Settings, asked: Asked) -> Planned:
    """Return what is due of the samples asked for; nothing is written."""
    with connect(workspace.root) as connection:
        samples = chosen(connection, asked)
        scope, frames = gathered(connection, workspace, settings, samples)
        content = _with_remark(_with_figures(entries(frames, scope.samples)), asked.remark)
        issued = fetch(connection, _ISSUES, [samples])
        last = issued.group_by("sample_id", maintain_order=True).last()
        held = _with_hashes(content).join(last, on="sample_id", how="left", suffix="_last")
        if asked.remark is None:
            held, content = _keeping_remarks(held, content)
        fresh = held.filter(pl.col("content_hash").ne_missing(pl.col("content_hash_last")))
        before = fetch(connection, _ENTRIES, [fresh["report_no"].drop_nulls().to_list()])
        changes = _changes(before, content.join(fresh, on="sample_id", how="semi"), last["sample_id"])
        changes = _explained(connection, changes, fresh, frames)
    due, changes = _due(fresh, changes, frames["run"], asked)
    pages = _pages(settings, frames, due, issued, changes) if due.height else {}
    return Planned(_told(held, due, changes), due, content, changes, pages)


def _with_figures(content: pl.DataFrame) -> pl.DataFrame:
    """Keep the samples that have a result: a report without one says nothing."""
    figured = content.filter(pl.col("part") == ReportPart.RESULT.value).select("sample_id").unique()
    return content.join(figured, on="sample_id", how="semi", maintain_order="left")


def _with_remark(content: pl.DataFrame, remark: str | None) -> pl.DataFrame:
    if not remark:
        return content
    said = content.select("sample_id").unique(maintain_order=True).with_columns(
        part=pl.lit(ReportPart.REMARK.value), item=pl.lit("remark"), field=pl.lit(None, pl.String), text=pl.lit(remark)
    )  # fmt: skip
    return pl.concat([content, said]).sort("sample_id", maintain_order=True)


def _with_hashes(content: pl.DataFrame) -> pl.DataFrame:
    parts = content.partition_by("sample_id", as_dict=True, maintain_order=True)
    rows = [(name, report_card.content_hash(part)) for (name,), part in parts.items()]
    return pl.DataFrame(rows, schema={"sample_id": pl.String, "content_hash": pl.String}, orient="row")


def _keeping_remarks(held: pl.DataFrame, content: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Carry the remark of the last issue on, where none is given now."""
    kept = held.drop_nulls("remark")
    if kept.is_empty():
        return held, content
    said = kept.select("sample_id", part=pl.lit(ReportPart.REMARK.value), item=pl.lit("remark"),
                       field=pl.lit(None, pl.String), text="remark")  # fmt: skip
    whole = pl.concat([content, said]).sort("sample_id", maintain_order=True)
    hashes = _with_hashes(whole)
    return held.drop("content_hash").join(hashes, on="sample_id", how="left", maintain_order="left"), whole


def _turned(frame: pl.DataFrame, name: str) -> pl.DataFrame:
    """Number the entries of one head, so that each has a key of its own."""
    turn = pl.int_range(pl.len()).over("sample_id", "part", "item", "field")
    return frame.select(*_ENTRY_KEY[:-1], turn.alias("turn"), pl.col("text").alias(name))


def _changes(before: pl.DataFrame, after: pl.DataFrame, known: pl.Series) -> pl.DataFrame:
    """Return the entries that differ, of samples that had a report: sample_id, part, item, field, before, after."""
    old, new = _turned(before, "before"), _turned(after, "after")
    new = new.filter(pl.col("sample_id").is_in(known.to_list())).with_row_index("place")
    both = new.join(old, on=_ENTRY_KEY, how="full", coalesce=True, nulls_equal=True)
    differ = both.filter(pl.col("before").ne_missing(pl.col("after")))
    return differ.sort("sample_id", "place", nulls_last=True).select(*_ENTRY_KEY[:-1], "before", "after")


def _explained(
    connection: DuckDBPyConnection, changes: pl.DataFrame, fresh: pl.DataFrame, frames: Mapping[str, pl.DataFrame]
) -> pl.DataFrame:
    """Add why, as the history records it: of the figure itself, else of all that changed for the sample."""
    again = fresh.drop_nulls("report_no")
    given = [again["sample_id"].to_list(), again["issued_at"].to_list()]
    if changes.is_empty():
        return changes.with_columns(why=pl.lit(None, pl.String))
    former, also = fetch(connection, _WHY, given), fetch(connection, _ALSO, given)
    titled = named(former, names(former, frames)).select("sample_id", item="title", own="why")
    own = titled.group_by("sample_id", "item").agg(pl.col("own").unique().sort().str.join("; "))
    every = pl.concat([former.select("sample_id", "why"), also]).drop_nulls()
    # A figure that follows from others says so only; the cause of the others is the cause.
    causes = every.group_by("sample_id").agg(pl.col("why").unique().sort().str.join("; ").alias("common"))
    figure = changes.with_columns(title=pl.col("item").str.replace(r" \[[^\]]*\]$", ""))
    explained = figure.join(
        own, left_on=["sample_id", "title"], right_on=["sample_id", "item"], how="left", maintain_order="left"
    )
    joined = explained.join(causes, on="sample_id", how="left", maintain_order="left")
    return joined.with_columns(why=pl.coalesce("own", "common").str.slice(0, _LONGEST)).drop("title", "own", "common")


def _due(
    fresh: pl.DataFrame, changes: pl.DataFrame, run: pl.DataFrame, asked: Asked
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return the issues that are due, and the changes with the number of the report that tells them."""
    at, last_run = _stamp(run)
    number = pl.col("issue_no").fill_null(0) + 1
    due = fresh.select(
        pl.format("{}-{}", "sample_id", number).alias("report_no"),
        "sample_id",
        number.alias("issue_no"),
        pl.lit(now(), pl.Datetime("us")).alias("issued_at"),
        pl.lit(last_run, pl.Int64).alias("figures_run"),
        pl.lit(at, pl.Datetime("us")).alias("figures_at"),
        pl.col("report_no").alias("replaces"),
        pl.lit(asked.remark, pl.String).fill_null(pl.col("remark")).alias("remark"),
        "content_hash",
    )
    numbered = changes.join(due.select("sample_id", "report_no"), on="sample_id", how="left", maintain_order="left")
    reasons = _reasons(numbered)
    given = pl.lit(asked.reason, pl.String)
    reason = pl.when(pl.col("replaces").is_not_null()).then(
        pl.concat_str(given, "automatic", separator=". ", ignore_nulls=True)
    )
    due = due.join(reasons, on="report_no", how="left", maintain_order="left").with_columns(reason=reason)
    return due.drop("automatic"), numbered


def _stamp(run: pl.DataFrame) -> tuple[datetime | None, int]:
    row = run.row(-1, named=True)
    at = row["finished_at"]
    return (datetime.fromisoformat(str(at)).replace(microsecond=0) if at is not None else None), int(row["run_id"])


def _reasons(changes: pl.DataFrame) -> pl.DataFrame:
    """Return, per report, what changed and why in one text: report_no, automatic."""
    shown = pl.concat_str("item", pl.coalesce(pl.format(" {}", "field"), pl.lit("")), pl.lit(" "),
                          pl.col("before").fill_null("–"), pl.lit(" -> "), pl.col("after").fill_null("–"))  # fmt: skip
    order = pl.when(pl.col("field") == "figure").then(0).otherwise(1)
    told = (
        changes.with_columns(said=shown, order=order)
        .sort("report_no", "order", maintain_order=True)
        .group_by("report_no", maintain_order=True)
        .agg(
            pl.col("said").head(_NAMED).str.join(", "),
            (pl.len().cast(pl.Int64) - _NAMED).alias("more"),
            pl.col("why").drop_nulls().unique(maintain_order=True).str.join("; ").alias("why"),
        )
    )
    more = pl.when(pl.col("more") > 0).then(pl.format(" and {} more", "more"))
    cause = pl.when(pl.col("why") != "").then(pl.format(". Cause: {}", "why"))
    text = pl.concat_str(pl.lit("Changed: "), "said", more, cause, ignore_nulls=True)
    return told.select("report_no", text.str.slice(0, _LONGEST).alias("automatic"))


def _pages(
    settings: Settings,
    frames: Mapping[str, pl.DataFrame],
    due: pl.DataFrame,
    issued: pl.DataFrame,
    changes: pl.DataFrame,
) -> dict[str, bytes]:
    """Return file name -> page of the reports that are due."""
    scope = Scope(samples=frozenset(due["sample_id"].to_list()))
    own = dict(of_samples(frames, scope.samples)) | {
        "reports": due.drop("content_hash").with_columns(as_of=pl.lit(None, pl.String)),
        "report_chain": issued,
        "report_changes": changes,
    }
    return {one.path: one.content for one in requested(settings, own, scope, "html").artefacts}


def _told(held: pl.DataFrame, due: pl.DataFrame, changes: pl.DataFrame) -> list[Report]:
    """Return every report: those that are due as issued, the others as they stand."""
    changed = changes.partition_by("report_no", as_dict=True, maintain_order=True)
    fresh = {
        row["sample_id"]: Report(
            row["report_no"], row["sample_id"], True, row["replaces"], row["reason"],
            tuple(changed[row["report_no"],].select(_CHANGE).to_dicts()) if (row["report_no"],) in changed else (),
        )
        for row in due.iter_rows(named=True)
    }  # fmt: skip
    stand = ("report_no", "sample_id", "replaces", "reason")
    return [
        fresh.get(row["sample_id"]) or Report(row["report_no"], row["sample_id"], False, row["replaces"], row["reason"])
        for row in held.select(stand).iter_rows(named=True)
    ]


def looked_back(
    workspace: Workspace, settings: Settings, asked: Asked, moment: str | None
) -> tuple[Scope, dict[str, pl.DataFrame]]:
    """Return scope and tables as they hold, or as they were known at a moment, with the reports in force then."""
    with connect(workspace.root, moment) as connection:
        samples = chosen(connection, asked)
        scope, frames = gathered(connection, workspace, settings, samples)
        issued = fetch(connection, _ISSUES, [samples])
    last = issued.group_by("sample_id", maintain_order=True).last()
    whole = take({"reports": last}, "reports").drop("as_of")
    every = pl.DataFrame({"sample_id": samples}, schema={"sample_id": pl.String})
    reports = every.join(whole, on="sample_id", how="left", maintain_order="left").with_columns(
        as_of=pl.lit(moment or "now"), figures_run=pl.lit(None, pl.Int64)
    )
    everything = not asked.samples and not asked.projects
    return (Scope() if everything else scope), frames | {"reports": reports, "report_chain": issued}
