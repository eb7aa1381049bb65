"""A published lot: data -> mean, s, quality indices, percentages, pay, by the code that judges lots."""

from collections.abc import Iterator

import polars as pl

from pipeline.judge.statistics.comparison import summary
from pipeline.judge.statistics.pay import pay, published
from pipeline.judge.statistics.quality import percent_within
from pipeline.validation.model import Entry, Finding, compared

#: Subject -> column of the frame.
_FIGURES = {
    "mean": "mean",
    "s": "s",
    "q_lower": "q_lower",
    "q_upper": "q_upper",
    "pwl_lower": "pwl_lower",
    "pwl_upper": "pwl_upper",
    "pwl": "pwl",
    "pd": "pd",
    "pay_value": "pay_value",
    "pay_pct": "pay_pct",
}


def check(entry: Entry) -> Iterator[Finding]:
    """Yield each figure the entry states as `name = [published, tolerance]`; `misprint` as `[print, tolerance]`."""
    values = pl.DataFrame({"lot": "1", "value": entry["values"]}, schema_overrides={"value": pl.Float64})
    limits = {side: pl.lit(entry.get(side), pl.Float64) for side in ("lower", "upper")}
    lot = percent_within(summary(values, ["lot"]).with_columns(**limits, look_up=pl.lit(entry["look_up"])))
    if "pay" in entry:
        measure = next(iter(published().filter(pl.col("equation") == entry["pay"])["measure"]))
        lot = pay(lot.with_columns(equation=pl.lit(entry["pay"]), x=pl.col(measure)), published())
    row = lot.to_dicts()[0]
    inputs = f"{len(entry['values'])} results, {entry['look_up']}"
    for subject, name in _FIGURES.items():
        if subject in entry:
            expected, tolerance = entry[subject]
            yield compared(entry, "as a lot", row[name], expected, tolerance, subject=subject, inputs=inputs)
    if "misprint" in entry:
        subject, printed, recomputed, tolerance = entry["misprint"]
        stated = entry | {"published": printed, "follows": False, "recomputed": recomputed, "tolerance": tolerance}
        yield compared(stated, "as a lot", row[_FIGURES[subject]], subject=subject, inputs=inputs)
