"""A published table: one property by hand, row by row."""

from collections.abc import Iterator

from pipeline.compute import compute
from pipeline.validation.model import Entry, Finding, compared, text


def check(entry: Entry) -> Iterator[Finding]:
    """Yield every row: `inputs` hold for all of them, `rows` gives the inputs that change, `published` the figures."""
    names = list(entry["rows"])
    for number, published in enumerate(entry["published"]):
        inputs = entry.get("inputs", {}) | {name: entry["rows"][name][number] for name in names}
        done = compute(entry["property"], inputs)
        covers = (f"{done.property}/{done.route}",)
        yield compared(entry, "by hand", done.value, published, inputs=text(inputs), covers=covers)
