"""Rut depths at the standard passes from the readings of a wheel-tracking run."""

from collections.abc import Iterator
from typing import Any

import polars as pl

from pipeline.derive import Inputs, derive
from pipeline.validation.model import Entry, Finding, Verdict, compared, told
from pipeline.validation.records import design, frame, sample

_WAY = "from records"


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the depth at each pass, and the flag of the last one."""
    key = {"sample_id": "S1", "specimen_no": "1", "wheel": "left"}
    positions = [f"depth_{number:02d}_mm" for number in range(1, 12)]
    depths = [
        {**key, "wheel_pass": at, **dict.fromkeys(positions, depth)}
        for at, depth in zip(entry["wheel_pass"], entry["depth_mm"], strict=True)
    ]
    header = {**key, "passes": entry["passes"], "stop_reason": "passes"}
    made = {"sample": [sample()], "mix_design": [design()], "wheel_run": [header], "wheel_depth": depths}
    values = derive(Inputs.of(**{record: frame(record, each) for record, each in made.items()})).property_values
    wheel = values.filter(pl.col("level") == "specimen", pl.col("property") == "rut_depth").sort("point")
    found = {row["point"]: row for row in wheel.to_dicts()}
    inputs = f"{len(depths)} readings to pass {entry['wheel_pass'][-1]}"
    for at, published in zip(entry["at"], entry["published"], strict=True):
        given: dict[str, Any] = {"subject": f"rut depth at {at} passes", "inputs": inputs}
        yield compared(entry, _WAY, found[at]["value"], published, **given, covers=(f"rut_depth/{found[at]['route']}",))
    flags = [found[at]["flags"] for at in entry["at"]]
    wanted = [*[None] * (len(flags) - 1), entry["last_flag"]]
    stated = {"expected": entry["last_flag"], "computed": " ".join(each or "none" for each in flags)}
    verdict = Verdict.PASS if flags == wanted else Verdict.FAIL
    yield told(entry, _WAY, verdict, subject="flags, the last pass only", inputs=inputs, **stated)
