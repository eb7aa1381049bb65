"""Average absolute deviation from a target, and the pay for it."""

from collections.abc import Iterator

import polars as pl

from pipeline.judge.statistics.pay import pay, published
from pipeline.judge.statistics.quality import average_absolute_deviation
from pipeline.validation.model import Entry, Finding, compared


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the deviation and the pay."""
    values = pl.DataFrame({"value": entry["values"]})
    value = values.select(average_absolute_deviation(pl.col("value"), pl.lit(entry["target"]))).item()
    inputs = f"{entry['values']} about {entry['target']:g}"
    yield compared(entry, "as a lot", value, entry["aad"], 1e-9, subject="average absolute deviation", inputs=inputs)
    asked = pl.DataFrame({"x": [value], "equation": [entry["equation"]]})
    paid = pay(asked, published())["pay_value"][0]
    yield compared(entry, "pay equation", paid, entry["pay"], 1e-9, subject="pay", inputs=inputs)
