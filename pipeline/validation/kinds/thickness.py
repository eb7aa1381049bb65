"""Thickness printed beside a bracket of the Marshall correlation table: whether it lies in the bracket."""

import math
from collections.abc import Iterator

from pipeline.formulas.t245 import correlation
from pipeline.validation.model import Entry, Finding, Verdict, told

_DIAMETER_CM = 10.16


def check(entry: Entry) -> Iterator[Finding]:
    """Yield whether the printed thickness fits; a misprint passes by not fitting."""
    low, high = next((low, high) for low, high, *_ in correlation() if low <= entry["volume"] <= high)
    volume = math.pi / 4 * _DIAMETER_CM**2 * entry["printed"] / 10
    fits = low - 0.5 <= volume <= high + 0.5
    yield told(
        entry,
        "from the table",
        Verdict.PASS if fits == entry["fits"] else Verdict.FAIL,
        subject=f"thickness of the bracket {low}-{high} cm³",
        inputs=f"{entry['printed']} mm at 101.6 mm diameter",
        expected="fits" if entry["fits"] else "does not fit",
        computed=f"{volume:.1f} cm³: {'fits' if fits else 'does not fit'}",
        negative=not entry["fits"],
    )
