"""Decision rules: the verdict on a result with its uncertainty, and the probability of conformity."""

from collections.abc import Iterator
from typing import Any

import polars as pl

from pipeline.judge.statistics.decision import decided
from pipeline.validation.model import Entry, Finding, Verdict, compared, told


def check(entry: Entry) -> Iterator[Finding]:
    """Yield verdict and probability of every case `[result, verdict, probability]`; an empty verdict is not checked."""
    cases = pl.DataFrame(
        entry["cases"], schema={"compared": pl.Float64, "wanted": pl.String, "p": pl.Float64}, orient="row"
    )
    judged = decided(
        cases.with_columns(
            lower=pl.lit(entry.get("lower"), pl.Float64),
            upper=pl.lit(entry.get("upper"), pl.Float64),
            u=pl.lit(entry["u"]),
            decision_rule=pl.lit(entry["rule"]),
            guard_factor=pl.lit(entry["guard_factor"]),
        )
    )
    for value, wanted, p, verdict, probability in judged.select(
        "compared", "wanted", "p", "verdict", "probability"
    ).rows():
        inputs = f"{value:g} with u = {entry['u']:g}, {entry['rule']}, guard band {entry['guard_factor']:g} u"
        if wanted:
            right = Verdict.PASS if verdict == wanted else Verdict.FAIL
            yield told(entry, entry["rule"], right, subject="verdict", inputs=inputs, expected=wanted, computed=verdict)
        if p is not None:
            given: dict[str, Any] = {"subject": "probability of conformity", "inputs": inputs}
            yield compared(entry, "normal distribution", probability, p, entry["tolerance"], **given)
