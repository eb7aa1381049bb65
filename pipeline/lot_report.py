"""One lot as its working: data, statistics, quality index, percentage, outliers, pay, source."""

import re
from collections.abc import Iterator
from typing import Any

from duckdb import DuckDBPyConnection

from pipeline.specification.words import name_of
from schemas.vocabulary import LookUp, OutlierTest
from warehouse.sql import fetch

Row = dict[str, Any]


class NoSuchLotError(ValueError):
    """A lot that no plan was applied to; the message says which there are."""


def lot_rows(connection: DuckDBPyConnection, project: str, mix: str, lot: str) -> list[Row]:
    """Return the rows of the view `lots` for one lot.

    Raises
    ------
    NoSuchLotError
        When there are none.
    """
    rows = fetch(
        connection,
        "SELECT * FROM lots WHERE project_id = ? AND mix_id = ? AND lot = ? ORDER BY plan_id",
        [project, mix, lot],
    ).to_dicts()
    if rows:
        return rows
    known = fetch(connection, "SELECT DISTINCT project_id, mix_id, lot FROM lots ORDER BY ALL").rows()
    listed = "; ".join(" ".join(each) for each in known) or "none"
    raise NoSuchLotError(
        f"no plan was applied to lot {lot} of mix {mix}, project {project}. A lot needs samples of phase production "
        f"and a set with an acceptance plan. Lots there are: {listed}"
    )


def told(row: Row) -> Iterator[str]:
    """Yield the working of one plan, line by line."""
    yield f"{name_of(row)} of {row['material']}, plan {row['plan_id']} of {row['set_id']} [{_source(row)}]"
    yield f"  data      {_shown(row['results'])}"
    if row["left_out"]:
        yield f"  left out  {_shown(row['left_out'])}"
    yield f"  limits    {_range(row)}"
    yield f"  n         {row['n']}{_number('; mean ', row['mean'])}{_number('; s ', row['s'])}"
    yield from _quality(row)
    yield from _outlier(row)
    if row["pay_pct"] is not None:
        yield f"  pay       {row['pay_pct']:.2f} % by {row['equation']}, {row['pay_rule']} [{row['pay_source']}]"
    sentences = {
        "": row["consequence"],
        "retest": "a retest is owed" if row["retest"] else None,
        "removal": "the removal threshold is reached" if row["removal"] else None,
        "no figure": row["reason"],
    }
    for name, sentence in sentences.items():
        if sentence:
            yield f"  {name:<9} {sentence}"


def _shown(data: str | None) -> str:
    """Return the results with six digits each; the warehouse holds all of them."""
    return re.sub(r"=(-?\d+\.?\d*(?:e-?\d+)?)", lambda found: f"={float(found[1]):.6g}", data) if data else "none"


def _quality(row: Row) -> Iterator[str]:
    if row["within_pct"] is not None and row["q_lower"] is not None:
        yield f"  Q lower   ({row['mean']:.6g} - {row['lower']:g}) / {row['s']:.6g} = {row['q_lower']:.4f}"
    if row["within_pct"] is not None and row["q_upper"] is not None:
        yield f"  Q upper   ({row['upper']:g} - {row['mean']:.6g}) / {row['s']:.6g} = {row['q_upper']:.4f}"
    if row["within_pct"] is not None:
        sides = f"{row['within_lower_pct']:.4f} + {row['within_upper_pct']:.4f} - 100"
        yield f"  PWL       {sides} = {row['within_pct']:.4f} %; beyond the limits {row['beyond_pct']:.4f} %"
        yield f"            {LookUp(row['look_up']).definition}"
    if row["deviation"] is not None:
        yield f"  deviation average from the target {row['target']:g}: {row['deviation']:.4g}"


def composite(rows: list[Row]) -> Iterator[str]:
    """Yield the pay for the whole lot, where several plans give one."""
    paid = [row for row in rows if row["pay_pct"] is not None]
    whole = next((row["composite_pct"] for row in rows if row["composite_pct"] is not None), None)
    if len(paid) > 1 and whole is not None:
        parts = ", ".join(f"{row['plan_id']} {row['pay_pct']:.2f} % (weight {row['weight'] or 1:g})" for row in paid)
        yield f"lot: {whole:.2f} % of {parts}"


def _source(row: Row) -> str:
    return f"{row['source']} ({row['mark']})" if row["mark"] else str(row["source"])


def _number(label: str, value: float | None) -> str:
    return "" if value is None else f"{label}{value:.6g}"


def _range(row: Row) -> str:
    lower, upper = row["lower"], row["upper"]
    sides = [f"at least {lower:g}" if lower is not None else "", f"at most {upper:g}" if upper is not None else ""]
    return ", ".join(filter(None, sides)) or "none"


def _outlier(row: Row) -> Iterator[str]:
    if row["outlier"] is None:
        return
    verdict = "stands out: look for the cause; it counts" if row["outlier"] else "does not stand out"
    figures = f"{row['outlier_statistic']:.4f} against {row['outlier_critical']:.4f}"
    test = OutlierTest(row["outlier_test"]).definition
    yield f"  outlier   {row['outlier_suspect']:.6g}: {figures}, {verdict} ({test})"
