"""What came of one check value: expected against computed, with source, tolerance and verdict."""

from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any

Entry = dict[str, Any]

#: Marks of values that nobody published: recomputed from published inputs, or an identity of our own.
UNPUBLISHED = frozenset({"computed", "own numbers", "constructed"})


class Verdict(StrEnum):
    """Whether the installed version gives the value."""

    PASS = "pass"  # noqa: S105
    FAIL = "fail"
    NOT_RUN = "not run"


@dataclass(frozen=True)
class Finding:
    """One value recomputed.

    Attributes
    ----------
    group, kind, id, subject, way
        Data file and kind of entry; the entry's name; what is computed; how (by hand, from records …).
    source, place, mark
        Where the value is published, and how far that was confirmed.
    inputs, expected, computed
        As text.
    difference, tolerance, why
        Computed less expected, what is allowed, and the reason for that; null where no number is compared.
    verdict, note
        The outcome, and what has to be said of it.
    negative
        Whether the published value is a misprint, which passes by being recognised as not following.
    covers
        Formulas put to the test, as `property/route`; procedures over series as `curve/name`.
    """

    group: str
    kind: str
    id: str
    subject: str
    way: str
    source: str
    place: str
    mark: str
    inputs: str
    expected: str
    computed: str
    difference: float | None
    tolerance: float | None
    why: str
    verdict: Verdict
    note: str = ""
    negative: bool = False
    covers: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, object]:
        """Return it as plain values."""
        return asdict(self)


def text(value: object) -> str:
    """Return a value as text, numbers without noise."""
    if isinstance(value, float):
        return f"{value:.8g}"
    if isinstance(value, dict):
        return ", ".join(f"{name} = {text(each)}" for name, each in value.items())
    if isinstance(value, list | tuple):
        return ", ".join(text(each) for each in value)
    return str(value)


def told(entry: Entry, way: str, verdict: Verdict, **parts: Any) -> Finding:
    """Return a finding on an entry; `parts` are further fields, or other values of those the entry gives."""
    fields: dict[str, Any] = {
        "group": entry["file"],
        "kind": entry["kind"],
        "id": str(entry.get("id", entry["number"])),
        "subject": str(entry.get("property", "")),
        "source": str(entry.get("source", "")),
        "place": str(entry.get("place", "")),
        "mark": str(entry.get("mark", "")),
        "inputs": text(entry.get("inputs", "")),
        "expected": "",
        "computed": "",
        "difference": None,
        "tolerance": None,
        "why": str(entry.get("why", "")),
    }
    return Finding(**(fields | {"way": way, "verdict": verdict} | parts))


def compared(
    entry: Entry, way: str, value: float, expected: float | None = None, tolerance: float | None = None, **parts: Any
) -> Finding:
    """Compare a number with the one published; a misprint with both the print and what its inputs give."""
    published = float(entry["published"]) if expected is None else expected
    allowed = float(entry["tolerance"]) if tolerance is None else tolerance
    follows = expected is not None or entry.get("follows", True)
    given = {"computed": text(float(value)), "tolerance": allowed} | parts
    if follows:
        verdict = Verdict.PASS if abs(value - published) <= allowed else Verdict.FAIL
        return told(entry, way, verdict, **{"expected": text(published), "difference": value - published} | given)
    recomputed = float(entry["recomputed"])
    recognised = abs(value - published) > allowed and abs(value - recomputed) <= allowed
    note = f"the source prints {text(published)}, which does not follow from its own inputs"
    stated = {"expected": text(recomputed), "difference": value - recomputed, "negative": True, "note": note}
    return told(entry, way, Verdict.PASS if recognised else Verdict.FAIL, **stated | given)
