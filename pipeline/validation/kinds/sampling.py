"""Places of a random sampling plan from given random numbers."""

from collections.abc import Iterator

from pipeline.judge.sampling import by_tonnage
from pipeline.validation.model import Entry, Finding, compared


def check(entry: Entry) -> Iterator[Finding]:
    """Yield the tonnage of every place."""
    places = by_tonnage(entry["random"], entry["lot_t"])
    for number, (value, expected) in enumerate(zip(places["tonnage_t"], entry["tonnages"], strict=True), start=1):
        inputs = f"r = {entry['random'][number - 1]:g}, lot of {entry['lot_t']:g} t in {places.height} sublots"
        yield compared(entry, "drawn", value, expected, 1e-9, subject=f"place {number}", inputs=inputs)
