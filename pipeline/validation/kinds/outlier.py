"""Published data with an outlier: statistic, critical value, and whether it is flagged."""

from collections.abc import Iterator

import polars as pl

from pipeline.judge.statistics.outliers import dixon, single_outlier
from pipeline.validation.model import Entry, Finding, compared


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the figures the entry states; `test` is `e178` or `dixon`."""
    frame = pl.DataFrame({"key": 1, "value": entry["values"]})
    if entry["test"] == "dixon":
        told = dixon(frame, ["key"]).to_dicts()[0]
    else:
        told = single_outlier(frame, ["key"], entry["alpha"], two_sided=False).to_dicts()[0]
    told["flagged"] = float(told["flagged"])
    inputs = f"{len(entry['values'])} results"
    for subject in ("suspect", "statistic", "critical", "flagged"):
        if subject in entry:
            yield compared(entry, entry["test"], told[subject], *entry[subject], subject=subject, inputs=inputs)
    if "misprint" in entry:
        printed, recomputed, tolerance = entry["misprint"]
        stated = entry | {"published": printed, "follows": False, "recomputed": recomputed, "tolerance": tolerance}
        value = (told["mean"] - min(entry["values"])) / told["s"]
        yield compared(stated, entry["test"], value, subject="statistic of the low end", inputs=inputs)
