"""What stands behind a figure of many samples: a lot's results, judgements and rule; the samples of a cell."""

from dataclasses import dataclass
from typing import Any

import polars as pl
from duckdb import DuckDBPyConnection

from pipeline import settings
from pipeline.explain import Step, TraceError, trace
from pipeline.lot_report import lot_rows, told
from pipeline.reporting import with_text
from pipeline.rounding import Rule
from pipeline.workspace import Workspace
from schemas.vocabulary import Verdict
from warehouse.sql import fetch

Row = dict[str, Any]


@dataclass(frozen=True)
class Result:
    """One result behind a lot's figure: whether it counts, how it was judged by itself, and its own trace."""

    label: str
    counts: bool
    judgements: tuple[Row, ...]
    step: Step

    def as_dict(self) -> Row:
        """Return it as plain values."""
        judged = [dict(each) for each in self.judgements]
        return {"label": self.label, "counts": self.counts, "judgements": judged, "trace": self.step.as_dict()}


@dataclass(frozen=True)
class LotFigure:
    """One property of a lot by one acceptance plan: the row of `lots`, the rule as its working, the results."""

    row: Row
    working: tuple[str, ...]
    results: tuple[Result, ...]

    def as_dict(self) -> Row:
        """Return it as plain values."""
        return {"lot": self.row, "working": list(self.working), "results": [each.as_dict() for each in self.results]}


@dataclass(frozen=True)
class Cell:
    """One property of one project, as the summary shows it: mean and deviation of the samples that count, and all."""

    mean: float | None
    s: float | None
    unit: str | None
    samples: pl.DataFrame

    def as_dict(self) -> Row:
        """Return it as plain values."""
        return {"mean": self.mean, "s": self.s, "unit": self.unit, "samples": self.samples.to_dicts()}


def lot(
    connection: DuckDBPyConnection, workspace: Workspace, where: tuple[str, str, str], name: str, at: float | None
) -> list[LotFigure]:
    """Trace a figure of a lot, once for each plan that accepts on it.

    Parameters
    ----------
    where
        Project, mix and lot.
    name, at
        Property or plan; sieve or passes where the lot is accepted on several.

    Raises
    ------
    TraceError
        When no plan accepts on that property.
    pipeline.lot_report.NoSuchLotError
        When no plan was applied to the lot.
    """
    rows = lot_rows(connection, *where)
    chosen = [row for row in rows if name in (row["property"], row["plan_id"]) and at in (None, row["point"])]
    if not chosen:
        has = ", ".join(dict.fromkeys(str(row["property"]) for row in rows))
        raise TraceError(f"lot {where[2]} is not accepted on '{name}'. Its plans accept on: {has}.")
    return [LotFigure(row, tuple(told(row)), _results(connection, workspace, row)) for row in chosen]


def _results(connection: DuckDBPyConnection, workspace: Workspace, row: Row) -> tuple[Result, ...]:
    where = ("project_id", "mix_id", "lot", "set_id", "plan_id", "property", "point")
    found = fetch(connection, _OF_LOT, [row[name] for name in where])
    judged = fetch(connection, _JUDGED, [row["property"], row["point"], found["sample_id"].to_list()])
    made = []
    for each in found.iter_rows(named=True):
        label = "/".join(filter(None, (each["sample_id"], each["specimen_no"])))
        own = judged.filter(pl.col("sample_id") == each["sample_id"]).drop("property", "point")
        step = trace(connection, workspace, each["sample_id"], row["property"], row["point"], each["specimen_no"])
        made.append(Result(label, each["counts"], tuple(own.to_dicts()), step))
    return tuple(made)


_OF_LOT = """
    SELECT sample_id, specimen_no, counts
    FROM lot_figures
    WHERE project_id = ? AND mix_id = ? AND lot = ? AND set_id = ? AND plan_id = ? AND property = ?
      AND point IS NOT DISTINCT FROM ?
    ORDER BY sample_id, specimen_no
"""

_JUDGED = """
    SELECT sample_id, property, point, set_id, limit_id, value, target, lower, upper, verdict, reason, source
    FROM judgements
    WHERE property = ? AND point IS NOT DISTINCT FROM ? AND list_contains(?, sample_id)
    ORDER BY sample_id, limit_id
"""


def cell(connection: DuckDBPyConnection, workspace: Workspace, project: str, name: str, at: float | None) -> Cell:
    """Trace a cell of the summary: one property of one project.

    Returns
    -------
    Cell
        `samples`: sample_id, phase, lot, value, text, verdict, limits, reason, flags, and whether it counts in the
        mean: it has a figure, and no limit declined it.

    Raises
    ------
    TraceError
        When the project has no such figure, or several by sieve or passes.
    """
    rows = fetch(connection, _OF_PROJECT, [project, name])
    points = rows["point"].unique().sort().to_list()
    if at is not None:
        rows = rows.filter((pl.col("point") - at).abs() < 1e-9)
    elif len(points) > 1:
        listed = ", ".join(f"{point:g}" for point in points if point is not None)
        raise TraceError(f"'{name}' has several values; name one with --at: {listed}.")
    if rows.is_empty():
        raise TraceError(_nothing(connection, project, name, at))
    shown = with_text(rows, Rule(settings.load(workspace.root).results.rounding))
    declined = pl.col("verdict").is_null() | (pl.col("verdict") != Verdict.NOT_JUDGED.value)
    samples = shown.with_columns(counts=pl.col("value").is_not_null() & declined).drop("property", "point", "unit")
    counting = samples.filter("counts")["value"].sort()  # sorted: the same sum whatever the order
    mean, s = counting.mean(), counting.std()
    return Cell(_number(mean), _number(s), rows["unit"][0], samples)


def _number(value: object) -> float | None:
    return value if isinstance(value, float) else None


#: Of the judgements of a sample one, in the order in which the pages take them.
_OF_PROJECT = """
    SELECT v.sample_id, s.phase, s.lot, v.property, v.point, v.value, p.unit, j.verdict, j.lower, j.upper,
           coalesce(v.withheld, j.reason) AS reason, v.flags
    FROM property_value AS v
    JOIN samples AS s ON s.sample_id = v.sample_id
    JOIN property AS p ON p.property = v.property
    LEFT JOIN (
        SELECT * FROM judgements
        QUALIFY row_number() OVER (
            PARTITION BY sample_id, property, point
            ORDER BY list_position(['fail', 'not_judged', 'pass'], verdict) NULLS LAST, limit_id) = 1
    ) AS j ON j.sample_id = v.sample_id AND j.property = v.property AND j.point IS NOT DISTINCT FROM v.point
    WHERE v.valid_to_run IS NULL AND v.level = 'sample' AND s.project_id = ? AND v.property = ?
    ORDER BY s.taken_on, v.sample_id, v.point
"""


def _nothing(connection: DuckDBPyConnection, project: str, name: str, at: float | None) -> str:
    query = (
        "SELECT DISTINCT v.property FROM property_value AS v JOIN samples AS s ON s.sample_id = v.sample_id "
        "WHERE v.valid_to_run IS NULL AND v.level = 'sample' AND s.project_id = ? ORDER BY 1"
    )
    has = fetch(connection, query, [project])["property"].to_list()
    if not has:
        known = fetch(connection, "SELECT DISTINCT project_id FROM samples ORDER BY 1")["project_id"].drop_nulls()
        return f"project '{project}' has no figures. Projects there are: {', '.join(known)}."
    place = f" at {at:g}" if at is not None else ""
    return f"project '{project}' has no '{name}'{place}. It has: {', '.join(has)}."
