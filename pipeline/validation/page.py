"""The validation record as one self-contained page."""

from typing import Any

import polars as pl

from pipeline.validation.entries import FOLDER
from pipeline.validation.model import Finding
from pipeline.validation.record import Record
from plugins.renderers.verbs.shell import page as whole
from plugins.renderers.verbs.shell import tables_of
from schemas.vocabulary import Method

_CHECKS = {
    "Check": '<strong>{subject}</strong> <span class="small">{id}</span><span class="small">{way}</span>',
    "Source": '{source}<span class="small">{place}</span><span class="small">{inputs}</span>',
    "Expected": "{expected}",
    "Computed": '{computed}<span class="small">{note}</span>',
    "Difference": "{difference}",
    "Tolerance": '{tolerance}<span class="small">{why}</span>',
    "Verdict": '<span class="mark {tone}">{verdict}</span>',
    "Mark": '<span class="firm">{mark}</span>',
}
_FORMULAS = {
    "Formula": '<strong>{symbol}</strong><span class="small">{name}</span>',
    "Equation": "{equation}",
    "Standard": "{standard}",
    "Published": "{published}",
    "Recomputed": "{unpublished}",
}


def page(record: Record) -> bytes:
    """Return the page in UTF-8."""
    groups = list(dict.fromkeys(found.group for found in record.findings))
    tables = _tables(record.findings)
    failed = _tables(record.failed)
    return whole(
        "validation.html",
        f"Made {record.made_at} UTC with mixledger {record.version} ({record.platform}).",
        verdict=record.verdict,
        passed=not record.failed,
        failed_html="".join(failed.values()),
        groups=[{"name": group, "title": _title(group), "count": _count(record, group)} for group in groups],
        tables=tables,
        unchecked=len(record.unchecked),
        formulas=len(record.coverage),
        coverage_html=_coverage([each.as_dict() for each in record.unchecked]),
        covered_html=_coverage([each.as_dict() for each in record.coverage if each.published]),
    )


def _title(group: str) -> str:
    if group in Method.values():
        return Method(group).definition
    first = (FOLDER / f"{group}.toml").read_text(encoding="utf-8").partition("\n")[0]
    title = first.removeprefix("# title: ")
    return title if title != first else group.replace("_", " ")


def _count(record: Record, group: str) -> str:
    found = [each for each in record.findings if each.group == group]
    return f"{sum(each.verdict == 'pass' for each in found)} of {len(found)} pass"


def _tables(findings: tuple[Finding, ...]) -> dict[str, Any]:
    from markupsafe import Markup

    if not findings:
        return {}
    rows = [
        found.as_dict()
        | {
            "difference": "" if found.difference is None else f"{found.difference:.2g}",
            "tolerance": "" if found.tolerance is None else f"{found.tolerance:g}",
            "subject": found.subject.replace("_", " "),
            "tone": "pass" if found.verdict == "pass" else "fail",
            "verdict": found.verdict.value,
            "covers": None,
        }
        for found in findings
    ]
    frame = pl.DataFrame(rows, infer_schema_length=None)
    made = tables_of(frame, ["group"], _CHECKS).iter_rows()
    # Made by the verbs, which escape every value.
    return {group: Markup(table) for group, table in made}  # noqa: S704


def _coverage(rows: list[dict[str, object]]) -> str:
    if not rows:
        return ""
    frame = pl.DataFrame(rows).with_columns(group=pl.lit(""))
    return str(tables_of(frame, ["group"], _FORMULAS)["table_html"].item())
