"""Rut depths at the standard passes from the readings of a wheel-tracking run."""

from collections.abc import Iterator
from typing import Any

import polars as pl

from pipeline.validation import records
from pipeline.validation.model import Entry, Finding, Verdict, compared, told

_WAY = "from records"


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the depth at each pass, and the flag of the last one."""
    values = records.wheel(entry["wheel_pass"], entry["depth_mm"], passes=entry["passes"])
    wheel = values.filter(pl.col("level") == "specimen", pl.col("property") == "rut_depth").sort("point")
    found = {row["point"]: row for row in wheel.to_dicts()}
    inputs = f"{len(entry['wheel_pass'])} readings to pass {entry['wheel_pass'][-1]}"
    for at, published in zip(entry["at"], entry["published"], strict=True):
        given: dict[str, Any] = {"subject": f"rut depth at {at} passes", "inputs": inputs}
        yield compared(entry, _WAY, found[at]["value"], published, **given, covers=(f"rut_depth/{found[at]['route']}",))
    flags = [found[at]["flags"] for at in entry["at"]]
    wanted = [*[None] * (len(flags) - 1), entry["last_flag"]]
    stated = {"expected": entry["last_flag"], "computed": " ".join(each or "none" for each in flags)}
    verdict = Verdict.PASS if flags == wanted else Verdict.FAIL
    yield told(entry, _WAY, verdict, subject="flags, the last pass only", inputs=inputs, **stated)
